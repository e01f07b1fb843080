"""Meter readings from batches: levels, errors, ratios, stops and colours, without an engine."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
import snapshot

from previz.deliver import meter_card, meter_csv
from previz.deliver.face_values import face_values
from previz.exposure import faces, meter_report, metering
from previz.exposure.meter_report import CameraNote, receptor, spot_reading
from previz.exposure.metering import Measured, Mixed
from previz.exposure.metering_colour import arriving_spectrum, colour_report, tint_of
from previz.frames.batches import BATCHES, Batches, read_meter, write_meter
from previz.frames.records import Short
from previz.physics.bands import band_means
from previz.physics.colour_report import colour_rendering_index
from previz.physics.daylight import daylight_spectrum
from previz.physics.exposure import CameraSettings
from previz.physics.lamps import illuminant, spectrum_of
from previz.physics.light import LampLight, lamp_band_xyz
from previz.physics.safety import Caution
from previz.physics.spectra import normalise, xyz_of
from previz.physics.uplift import reflectance_from_rgb

ONES = np.ones(81)
BANDS = 12
PATHS = 128


def lamp(name, lumens, spectrum=None, level=1.0, on=True):
    spectrum = spectrum_of("blackbody", 3200) if spectrum is None else spectrum
    return LampLight(name, "lm", lumens, spectrum, ONES, level, on)


def gathered(readings, noise=0.0, seed=1):
    """Batches whose meters read given lux per lumen of each lamp, [direct, bounced], in all bands.

    readings: meter -> {lamp: (direct, bounced)}.
    """
    names, lights = list(readings), list(next(iter(readings.values())))
    batches = Batches.empty(names, lights, BANDS)
    random = np.random.default_rng(seed)
    for m, name in enumerate(names):
        for l, light in enumerate(lights):  # noqa: E741
            grain = 1 + noise * random.standard_normal((BATCHES, 2, 1))
            batches.sums[m, :, l] = np.array(readings[name][light])[:, None] * grain * PATHS
    batches.paths[:], batches.rounds[:] = PATHS, 1
    return batches


SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48)
CAMERA = CameraNote("A", SETTINGS)


def test_error_of_a_reading_is_the_spread_of_its_batches():
    """Of 64 batches with a spread of 8 % the mean is known to 1 %."""
    batches = gathered({"desk": {"key": (0.1, 0.0)}}, noise=0.08)
    read = metering.mix(batches, [lamp("key", 1000)])["desk"].light()
    # sd / sqrt(64) = 1 %; a spread of 64 samples is itself good to 9 %, three of which are allowed.
    assert read.error / read.value == pytest.approx(0.01, rel=0.27)
    assert read.value == pytest.approx(100, rel=0.04)
    weights = np.array([lamp_band_xyz(lamp("key", 1000), BANDS)[:, 1]])
    assert batches.relative_error(weights)[0] == pytest.approx(read.error / read.value)


def test_meter_without_paths_is_not_precise():
    """A meter that has gathered nothing is never taken for one that reads nothing."""
    batches = Batches.empty(("desk",), ("key",), BANDS)
    assert batches.relative_error(np.ones((1, BANDS)))[0] == np.inf
    batches.paths[:] = 8
    assert batches.relative_error(np.ones((1, BANDS)))[0] == 0


def test_jackknife_of_a_mean_is_its_standard_error():
    """Leaving one out gives the textbook error of a mean exactly, and of a ratio to first order."""
    random = np.random.default_rng(4)
    samples = random.normal([30.0, 10.0], [0.6, 0.4], (64, 2))
    alone = metering.jackknife(lambda mean: mean[0], samples)
    assert alone == pytest.approx(metering.measured(samples[:, 0]))
    ratio = metering.jackknife(lambda mean: mean[0] / mean[1], samples)
    one, other = (metering.measured(samples[:, i]) for i in (0, 1))
    # Propagation of errors of independent parts; 25 % for the chance correlation of 64 pairs.
    expected = 3 * np.hypot(one.error / one.value, other.error / other.value)
    assert ratio.value == pytest.approx(3, rel=0.02)
    assert ratio.error == pytest.approx(expected, rel=0.25)


def test_levels_are_weights_and_nothing_else():
    """A dimmer at half halves a lamp's part, a lamp that is off gives none; others stay."""
    batches = gathered({"desk": {"key": (0.08, 0.02), "fill": (0.0, 0.05)}})
    full = metering.mix(batches, [lamp("key", 1000), lamp("fill", 400)])["desk"]
    dimmed = metering.mix(batches, [lamp("fill", 400, on=False), lamp("key", 1000, level=0.5)])
    # 1000 lm · 0.08 and 0.02 /m²; 400 lm · 0.05 /m².
    assert full.light().value == pytest.approx(120)
    assert full.light(("key",), 0).value == pytest.approx(80)
    assert full.light(("key",), 1).value == pytest.approx(20)
    assert dimmed["desk"].light().value == pytest.approx(50)
    assert dimmed["desk"].light(("fill",)).value == 0
    shares = [part.share for part in full.by_lamp()]
    assert [part.lamp for part in full.by_lamp()] == ["key", "fill"]
    assert sum(shares) == pytest.approx(1)
    with pytest.raises(ValueError, match="knows no lamp"):
        full.light(("rim",))
    with pytest.raises(ValueError, match="know the lamps"):
        metering.mix(batches, [lamp("key", 1000)])


def test_thousand_lux_on_both_receptors():
    """1000 lx is EV 8.644 flat and 8.243 domed; T8.16 at ISO 800, 180° and 24 frames/s."""
    batches = gathered({"face": {"key": (1.0, 0.0)}})
    mixed = metering.mix(batches, [lamp("key", 1000)])["face"]
    flat, dome = (meter_report.receptor(mixed, [CAMERA], dome=dome) for dome in (False, True))
    # ISO 2720 with C 250 and 330: log2(100 E / C).
    assert flat.ev100 == pytest.approx(8.644, abs=5e-4)
    assert dome.ev100 == pytest.approx(np.log2(1e5 / 330), abs=1e-9)
    # A television text's worked example: sqrt(1000 · 800 / 48 / 250) = 8.16.
    assert dict(flat.stops)["A"] == pytest.approx(8.165, abs=5e-4)
    # 1 fc is 10.763910 lx (international foot).
    assert flat.footcandles == pytest.approx(1000 / 10.763910)


def test_no_light_is_no_stop():
    """Darkness reads 0 lx, no EV and no stop, and is no error."""
    batches = gathered({"face": {"key": (0.0, 0.0)}})
    mixed = metering.mix(batches, [lamp("key", 1000)])["face"]
    dark = meter_report.receptor(mixed, [CAMERA])
    assert (dark.light.value, dark.ev100, dict(dark.stops)["A"]) == (0, -np.inf, 0)
    assert colour_report(mixed, np.zeros(81)) is None


def test_spot_on_a_grey_card_in_the_light_of_the_stop():
    """18 % in 1000 lx: 57.296 cd/m², 16.72 fL, 0 stops and 40.9 % at the stop for 1000 lx."""
    # L = rho E / pi; 1 fL = 3.426259 cd/m²; BT.709 of 0.18 (check values 1.16, 3.10, 3.11).
    batches = gathered({"card, A": {"key": (57.296 / 1000, 0.0)}})
    mixed = metering.mix(batches, [lamp("key", 1000)])["card, A"]
    camera = CameraNote("A", CameraSettings(np.sqrt(1000 * 800 / 48 / 250), 800, 1 / 48))
    spot = meter_report.spot_reading(mixed, "card", camera, 0.02)
    assert spot.luminance.value == pytest.approx(57.296, rel=1e-9)
    assert spot.footlamberts == pytest.approx(16.72, abs=5e-3)
    assert spot.stops.value == pytest.approx(0, abs=1e-4)
    assert spot.percent == pytest.approx(40.90, abs=0.01)
    # Spot and incident differ by 0.1965 stop on an 18 % card: EV 8.840 (check value 3.3).
    assert spot.ev100 == pytest.approx(8.840, abs=5e-4)


def test_colour_of_one_lamp_is_the_lamps():
    """A white path from lamp to meter leaves its colour temperature, tint and rendering alone."""
    spectrum = daylight_spectrum(5600)
    batches = gathered({"face": {"key": (0.2, 0.0)}}, noise=0.02)
    lamps = [lamp("key", 1000, spectrum)]
    mixed = metering.mix(batches, lamps)["face"]
    found = colour_report(mixed, arriving_spectrum(batches, lamps, 0))
    # CIE 15: the D series lies Duv +0.0033 over the Planckian at 5600 K, a slight green (facts
    # 0.6); ±5 K and ±0.0002 for sums at 5 nm.
    assert found.cct.value == pytest.approx(5600, abs=5)
    assert found.duv.value == pytest.approx(0.0033, abs=2e-4)
    assert found.tint == "green"
    # A level that is not known does not make the colour unknown.
    assert found.cct.error < 1e-6
    # CIE daylight is its own reference in all three.
    assert (found.ra, found.rf, found.ssi) == pytest.approx((100, 100, 100), abs=0.5)
    assert found.reference == "CIE daylight 5600 K"


def test_spectrum_is_put_together_from_lamps_and_bands():
    """Two lamps through a path that takes the blue: the spectrum has the reading's XYZ."""
    batches = gathered({"face": {"key": (0.2, 0.0), "sky": (0.0, 0.3)}})
    batches.sums[0, :, 1] *= np.linspace(0.1, 1.0, BANDS)
    lamps = [lamp("key", 1000, spectrum_of("led", 4000)), lamp("sky", 500, daylight_spectrum(9000))]
    spectrum = arriving_spectrum(batches, lamps, 0)
    mixed = metering.mix(batches, lamps)["face"]
    # Readings weigh the bands by lamp (`band_weights`); the spectrum has steps: 0.15 % apart here.
    assert xyz_of(spectrum) == pytest.approx(mixed.xyz.mean(axis=0).sum(axis=(0, 1)), rel=3e-3)
    # Under 400 nm only a tenth of the sky arrives, over 750 nm all of it.
    part = spectrum - 1000 * 0.2 * lamps[0].spectrum
    whole = 500 * 0.3 * lamps[1].spectrum
    assert part[0] / whole[0] == pytest.approx(0.1)
    assert part[-1] / whole[-1] == pytest.approx(1.0)
    found = colour_report(mixed, spectrum, reference=3200.0)
    assert found.reference == "black body 3200 K"
    assert found.ra == pytest.approx(colour_rendering_index(spectrum))


@pytest.mark.parametrize(
    ("duv", "tint"), [(0.004, "green"), (-0.004, "magenta"), (0.0001, "neutral")]
)
def test_words_for_a_tint(duv, tint):
    """Plus is green, minus magenta (sign by ANSI C78.377, from memory)."""
    assert tint_of(duv) == tint


def test_one_meters_file_comes_back(tmp_path):
    """What a meter has gathered is read back whole; a torn file is left aside."""
    batches = gathered({"a": {"key": (0.2, 0.1)}, "b": {"key": (0.5, 0.0)}}, noise=0.1)
    write_meter(tmp_path / "b.npz", batches, 1)
    fresh = Batches.empty(("b",), ("key",), BANDS)
    assert read_meter(tmp_path / "b.npz", fresh, 0)
    assert np.array_equal(fresh.sums[0], batches.sums[1])
    assert (fresh.paths[0], fresh.rounds[0]) == (PATHS, 1)
    other = Batches.empty(("b",), ("key", "fill"), BANDS)
    assert not read_meter(tmp_path / "b.npz", other, 0)
    whole = (tmp_path / "b.npz").read_bytes()
    (tmp_path / "b.npz").write_bytes(whole[:-300])
    fresh = Batches.empty(("b",), ("key",), BANDS)
    assert not read_meter(tmp_path / "b.npz", fresh, 0)
    assert not read_meter(tmp_path / "none.npz", fresh, 0)
    assert fresh.paths[0] == 0


def report(option="bounce"):
    """A report of two places, ratios and a spot reading."""
    readings = {
        "clerk: left cheek": {"lamp": (0.3, 0.05), "sky": (0.0, 0.06), "stove": (0.0, 0.00001)},
        "clerk: right cheek": {"lamp": (0.0, 0.05), "sky": (0.0, 0.06), "stove": (0.0, 0.0)}}
    lamps = [lamp("lamp", 1000), lamp("sky", 1000, daylight_spectrum(6500)), lamp("stove", 100)]
    batches = gathered(readings, noise=0.08)
    mixed = metering.mix(batches, lamps)
    places = tuple(
        meter_report.Place(name, meter_report.receptor(each, [CAMERA]),
                           meter_report.receptor(each, [CAMERA], dome=True),
                           colour_report(each, arriving_spectrum(batches, lamps, i)))
        for i, (name, each) in enumerate(mixed.items()))
    sides = tuple(mixed.values())
    return meter_report.Report(
        "Signal cabin", option, (CAMERA,), places,
        faces.faces_in(mixed), (faces.key_lamps("clerk", *sides),),
        (meter_report.spot_reading(sides[0], "clerk: face", CAMERA, 0.01),), 0.01,
        (Short("clerk: right cheek", 0.013, False), Short("clerk: face, A", 0.012, True)),
        (8192, 65536), BANDS, ("lamp", "sky", "stove"))


def test_table_fits_and_says_what_it_must():
    """At most 100 columns; both ratios by name; what was not reached; every lamp's share."""
    text = meter_card.table_text(report())
    assert max(len(line) for line in text.splitlines()) <= 100
    for said in ("lit side, left cheek", "shadow side, right cheek", "lit : shadow",
                 "key alone : fill", "key lamps 'lamp' at the left cheek", "(key lamps + others) : others",
                 "dome", "flat", "T at A", "stops, A",
                 "NOT REACHED: 'clerk: right cheek' is at 1.3 %", "T2.8 · ISO 800", "fc",
                 "1 more under 0.1 %", "SSI", "from grey", "C 250", "K 12.5"):
        assert said in text
    # 350 of 410 lx: lamp 85.4 %, sky 14.6 %, to 3 % of noise.
    rows = [line.split() for line in text.splitlines() if line.startswith("  lamp ")]
    assert float(rows[0][-2]) == pytest.approx(85.4, abs=1.5)


def test_snapshot_meter_card():
    """The card of the same readings says the same: as text, as JSON, and as rows."""
    made = report()
    options = json.loads(meter_card.json_text([made]))["options"]
    rows = list(csv.reader(io.StringIO(meter_csv.csv_text([made]))))
    snapshot.hold("words", "meter card", {
        "text": snapshot.number(meter_card.table_text(made).splitlines()), "json": snapshot.number(options),
        "csv": snapshot.number([",".join(row) for row in rows])}, 1e-5)


def test_the_head_of_the_table():
    """One lamp is one lamp, one count of paths is reported once, and a scene may have no title."""
    whole = report()
    head = meter_card.table_text(whole).splitlines()
    assert head[0] == "Signal cabin: bounce"
    assert head[1].startswith("3 lamps, 12 bands") and "by 8\u202f192 to 65\u202f536 paths" in head[1]
    bare = replace(whole, title="", option="", lamps=("lamp",), paths=(8192, 8192))
    head = meter_card.table_text(bare).splitlines()
    assert head[0].startswith("1 lamp, ") and head[0].endswith("by 8\u202f192 paths each")


def test_an_error_is_never_shown_as_none():
    """What is smaller than the decimals shown is reported as smaller, not as 0."""
    assert meter_card._pair(Measured(2.675, 2e-6)) == ("2.675", "<0.001")
    assert meter_card._pair(Measured(2.675, 0.004)) == ("2.675", "0.004")
    assert meter_card._pair(Measured(2.675, 0.0)) == ("2.67", "0.00")


def test_a_spot_meters_errors_in_stops():
    """Its error and what bands may be off are told in stops by the same law; noise below nothing is dark."""
    xyz = np.zeros((4, 1, 2, 3))
    xyz[:, 0, 0, 1] = 40.0, 42.0, 38.0, 44.0
    seen = spot_reading(Mixed("wall, A", ("lamp",), xyz, np.array([[0.8, 0.4]])), "wall",
                        CameraNote("A", SETTINGS), 0.1)
    light = seen.luminance
    assert (light.value, light.bands) == pytest.approx((41.0, 1.2))
    # d(log2 L) = dL / (L ln 2).
    assert seen.stops.error == pytest.approx(light.error / 41 / np.log(2))
    assert seen.stops.bands == pytest.approx(1.2 / 41 / np.log(2))
    dark = spot_reading(Mixed("wall, A", ("lamp",), -xyz), "wall", CameraNote("A", SETTINGS), 0.1)
    assert (dark.footlamberts, dark.stops.value, dark.stops.error, dark.ev100) == (0, -np.inf, 0, -np.inf)
    below = receptor(Mixed("clerk: face", ("lamp",), -xyz), [CameraNote("A", SETTINGS)])
    assert (below.footcandles, below.ev100, below.stops) == (0, -np.inf, (("A", 0.0),))


def test_the_card_ends_with_what_the_scene_calls_for():
    """The most urgent first, one a sort, with its source; without any it has no word of it."""
    heat = Caution("heat", "heat", "Heat: key is 0.4 m from silk", "Heat in full.", "a standard", 1)
    load = Caution("mains", "load", "Mains: 200 W", "Mains in full.", "another", 9)
    text = meter_card.table_text(replace(report(), cautions=(heat, heat, load)))
    tail = text[text.index("CAUTIONS"):].splitlines()
    assert tail[1:3] == ["  Heat: key is 0.4 m from silk (a standard). And more like it.",
                         "  Mains: 200 W (another)."]
    assert tail[3].startswith("Planning aid only.") and len(tail) == 4
    assert "CAUTIONS" not in meter_card.table_text(report())
    found, = json.loads(meter_card.json_text([replace(report(), cautions=(load,))], "0.1"))["options"]
    assert found["cautions"] == [{"kind": "mains", "brief": "Mains: 200 W", "text": "Mains in full.",
                                  "source": "another"}]


def test_json_card():
    """Every number is plain JSON, with its unit and error."""
    result = json.loads(meter_card.json_text([report(), report("direct")], "0.1"))
    assert [each["option"] for each in result["options"]] == ["bounce", "direct"]
    cheek = result["options"][0]["incident"]["clerk: left cheek"]
    assert cheek["flat"]["illuminance"]["unit"] == "lx"
    assert cheek["flat"]["illuminance"]["standard_error"] > 0
    assert set(cheek["flat"]["lamps"]["lamp"]) == {"total", "direct", "bounced", "share",
                                                   "stops_from_working"}
    assert cheek["flat"]["t_stop"]["A"] > cheek["dome"]["t_stop"]["A"]
    # T sqrt(E t S / C): four times the light is two stops and twice the T-stop.
    flat = cheek["flat"]
    assert flat["stops_from_working"]["A"]["value"] == pytest.approx(
        2 * np.log2(flat["t_stop"]["A"] / SETTINGS.stop))
    assert cheek["dome"]["stops_from_working"]["A"]["value"] == pytest.approx(
        2 * np.log2(cheek["dome"]["t_stop"]["A"] / SETTINGS.stop))
    face = result["options"][0]["faces"]["clerk"]
    lit, shadow = face["lit_side"], face["shadow_side"]
    assert (lit["cheek"], shadow["cheek"]) == ("left", "right")
    assert lit["illuminance"] == flat["illuminance"]
    assert lit["stops_from_working"] == flat["stops_from_working"]
    ratio = lit["illuminance"]["value"] / shadow["illuminance"]["value"]
    assert face["ratio"]["lit_to_shadow"]["value"] == pytest.approx(ratio)
    assert face["ratio"]["key_alone_to_fill"]["value"] == pytest.approx(ratio - 1)
    lamps, = result["options"][0]["key_lamps"]
    assert (lamps["lamps"], lamps["cheek"]) == (["lamp"], "left")
    assert result["options"][0]["not_reached"] == {"clerk: right cheek": 0.013, "clerk: face, A": 0.012}
    assert result["options"][0]["on_few_paths"] == ["clerk: face, A"]


def test_bands_have_their_part_in_errors_and_ratios():
    """After a red wall the stated error holds both parts, of one lamp as of a ratio."""
    red = reflectance_from_rgb(np.array([0.6, 0.01, 0.01]))
    batches = gathered({"face": {"key": (0.2, 0.1), "fill": (0.0, 0.1)}}, noise=0.01)
    batches.sums[:, :, :, 1] *= band_means(red)
    lamps = [lamp("key", 1000, normalise(illuminant("FL11"))),
             lamp("fill", 400, normalise(illuminant("FL11")))]
    mixed = metering.mix(batches, lamps, red[None])["face"]
    plain = metering.mix(batches, lamps)["face"].light()
    found = mixed.light()
    assert plain.bands == 0
    assert found.value == plain.value
    assert found.bands > 0
    assert found.paths == pytest.approx(plain.error)
    assert mixed.light(part=0).bands == 0
    parts = {part.lamp: part for part in mixed.by_lamp()}
    # Light in proportion 1000 to 400 off the same wall under the same spectrum; they add up.
    assert parts["key"].bounced.bands == pytest.approx(2.5 * parts["fill"].bounced.bands, rel=0.01)
    assert found.bands == pytest.approx(parts["key"].total.bands + parts["fill"].total.bands)
    ratios = faces.key_lamps("clerk", mixed, mixed, ("key",))
    relative = np.hypot(parts["key"].total.bands / parts["key"].total.value,
                        parts["fill"].total.bands / parts["fill"].total.value)
    assert ratios.key_to_others.bands == pytest.approx(ratios.key_to_others.value * relative)


def test_json_has_no_infinity():
    """A ratio without fill is null, as JSON knows no infinity; so are the stops of no light."""
    face = faces.FaceLight("clerk", "left", Measured(5.0, 0.1), Measured(0.0, 0.0))
    result = json.loads(json.dumps(face_values(face, [("A", SETTINGS)]), allow_nan=False))
    assert result["ratio"]["lit_to_shadow"]["value"] is None
    assert result["shadow_side"]["stops_from_working"]["A"]["value"] is None
    assert result["shadow_side"]["note"] == "no light" and "note" not in result["lit_side"]


def test_csv_card():
    """One number a row, all rows of one width."""
    rows = list(csv.reader(io.StringIO(meter_csv.csv_text([report()]))))
    assert rows[0] == list(meter_csv.CSV_HEAD)
    assert {len(row) for row in rows} == {len(meter_csv.CSV_HEAD)}
    bounced = [row for row in rows if row[2] == "clerk: left cheek" and row[4] == "flat"
               and row[5:8] == ["lamp", "bounced", "lx"]]
    # 1000 lm · 0.05 /m², 8 % a batch.
    assert float(bounced[0][8]) == pytest.approx(50, rel=0.04)
    result = {(row[5], row[6]): float(row[8]) for row in rows if row[1:4] == ["face", "clerk", ""]}
    assert result["", "lit : shadow"] == pytest.approx(result["", "lit side"] / result["", "shadow side"],
                                                     rel=1e-4)
    # Both in one row each: in lux, and in stops of the camera that sees it.
    assert sum(row[1:4] == ["face", "clerk", "A"] for row in rows) == 2
