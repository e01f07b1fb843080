// An option with what was moved, put in and taken out of it, as the server reads it: its lamps, cameras and faces.

import { numberOf } from "./dom.js";
import { signalPerLuminance } from "./light.js";

/** A number as a scene file has it: '3200 K', 'T2.8', '40 %', 'none'. */
function numberIn(value) {
  return typeof value === "number" ? value : numberOf(value) * (/\dkK|\bkK/.test(value) ? 1000 : 1);
}

function shareIn(value) {
  return typeof value === "string" && value.includes("%") ? numberOf(value) / 100 : numberIn(value);
}

function metresIn(value) {
  const text = String(value), size = { mm: 0.001, cm: 0.01, in: 0.0254, ft: 0.3048 }[text.replace(/[^a-z]/g, "")] ?? 1;
  return numberOf(text) * size;
}

function isYes(value) {
  return value === true || value === "yes" || value === "true";
}

/** Sheets before a lamp as the page has them: a trade name, or the number of a sheet with figures of its own. */
function gelsIn(value, names) {
  const sheets = value === "none" ? [] : [value].flat();
  return sheets.map((each, sheet) => (names.includes(each) ? each : { sheet, label: each.name ?? "sheet as written" }));
}

/** A lamp's row with fields of a scene file laid over it. */
function lampOver(row, fields, scene) {
  const { dimmer, on, cct, duv, gel, spectrum, kind, in_shot: inShot } = fields;
  const lamp = kind && kind !== row.kind ? { ...scene.rows.lamps[kind], name: row.name } : { ...row };
  // What makes the light says how far its colour can go, and whether it has a tint.
  const { rows } = scene, fresh = lamp.greenest === null, word = spectrum ?? (fresh ? rows.made[lamp.kind] : undefined);
  const { duv: tint, ...made } = rows.spectra[word] ?? {};
  Object.assign(lamp, made);
  if (made.greenest === null) (rows.lacking ??= new Set()).add(word);
  if (tint !== undefined) lamp.duv = tint === null ? null : lamp.duv ?? tint;
  if (dimmer !== undefined) lamp.level = shareIn(dimmer);
  if (on !== undefined) lamp.on = isYes(on);
  if (cct !== undefined) lamp.cct = numberIn(cct);
  if (duv !== undefined && lamp.duv !== null) lamp.duv = numberIn(duv);
  if (gel !== undefined) lamp.gel = gelsIn(gel, scene.gels);
  if (inShot !== undefined) lamp.in_shot = isYes(inShot);
  return lamp;
}

const CAMERA_NUMBERS = ["stop", "iso", "shutter", "fps", "nd", "white_balance", "green"];

/** A camera's row with fields of a scene file laid over it. */
function cameraOver(row, fields, tables) {
  const camera = { ...row };
  if (fields.lens !== undefined) camera.lens_mm = 1000 * metresIn(fields.lens);
  if (fields.aspect !== undefined) {
    const [across, up = "1"] = String(fields.aspect).split(":");
    camera.aspect = numberOf(across) / numberOf(up);
  }
  const set = CAMERA_NUMBERS.filter((name) => fields[name] !== undefined);
  for (const name of set) camera[name] = numberIn(fields[name]);
  // Lamps are packed by the camera as it is set in the option.
  if (set.length) camera.reference = signalPerLuminance(camera, tables);
  return camera;
}

/** The rows of one list, those taken out left off, those put in at the end. */
function listed(rows, section, moves, over, fresh) {
  const gone = new Set(moves.remove ?? []), places = moves[section] ?? {};
  const kept = rows.filter((row) => !gone.has(row.name))
    .map((row) => (places[row.name] ? over(row, places[row.name]) : row));
  const added = (moves.add?.[section] ?? []).map((fields) => over(fresh(fields), fields));
  return [...kept, ...added];
}

/** An option as written with moves laid over it; `moves` as `movesOf` has them. */
export function asMoved(written, moves, scene) {
  if (!Object.keys(moves).length) return written;
  const lamps = written.lamps.filter((each) => each.sort === "lamp");
  const daylight = written.lamps.filter((each) => each.sort !== "lamp");
  return {
    ...written,
    lamps: [...listed(lamps, "lights", moves, (row, fields) => lampOver(row, fields, scene),
      ({ kind, name }) => ({ ...scene.rows.lamps[kind], name })), ...daylight],
    cameras: listed(written.cameras, "cameras", moves, (row, fields) => cameraOver(row, fields, scene.tables),
      ({ name }) => ({ ...scene.rows.camera, name })),
    faces: listed(written.faces.map((name) => ({ name })), "figures", moves, (row) => row, ({ name }) => ({ name }))
      .map((each) => each.name),
  };
}
