"""`previz meter`: from a scene file to readings, kept and gone on with."""

import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import main, previz
from previz.engine.gather import Gather
from previz.engine.render import CameraJob, Sampling
from previz.exposure.camera import stop_of
from previz.exposure.mix import lamp_xyz
from previz.frames.batches import BATCHES
from previz.physics.exposure import CameraSettings
from previz.physics.light import lamp_band_xyz
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Order
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.heads import Head
from previz.stage.views import DOME, face_probes, meter_probes

pytestmark = [
    pytest.mark.engine,
    # The colour library warns of optional parts that are not installed.
    pytest.mark.filterwarnings("ignore"),
]

# A bare store: one bulb 1.5 m next to the meter, which faces it, a panel by the wall, one camera.
# A bulb of 100 cd has them to all sides but its holder's.
SCENE = """
previz: 1
title: Lamp store
room: {size: [3 m, 3 m, 2.6 m], surfaces: {walls: {reflectance: 0.4}}}
pieces:
  - {name: crate, shape: box, at: [2.2 m, 2.2 m], size: [0.6 m, 0.6 m, 0.6 m],
     surface: {reflectance: 0.5}}
lights:
  - {name: bulb, kind: bulb, at: [1 m, 1 m, 2.2 m], output: 100 cd, cct: 2700 K,
     spectrum: blackbody}
  - {name: panel, kind: panel, at: [2.9 m, 0.2 m, 1.5 m], aim: crate, size: [0.3 m, 0.3 m],
     output: 500 lm, cct: 5600 K, spectrum: daylight}
meters:
  - {name: hook, at: [2.5 m, 1 m, 2.2 m], facing: bulb}
cameras:
  - {name: A, at: [0.4 m, 0.4 m, 1.5 m], aim: crate, lens: 25 mm, stop: T2.8, iso: 800}
options:
  full: {}
  half: {lights: {bulb: {dimmer: 50 %, cct: 3200 K}}}
"""


@pytest.fixture
def scene(tmp_path, monkeypatch):
    """The scene's path; caches go next to it."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "store.yaml"
    path.write_text(SCENE)
    return path


@pytest.fixture
def run(scene):
    """Run `previz meter` on the scene and return its JSON; in as few bands as the other tests here."""
    def call(*more):
        found = CliRunner().invoke(previz, ["meter", str(scene), "--json", "--bands", "8", *more],
                                   standalone_mode=False)
        assert found.exception is None, found.output
        return json.loads(found.stdout)["options"]

    return call


def stage_job(scene, option="full", folder="cache", seed=1):
    stage = build_stage(load(scene).scene(option))
    order = Order(16, 9, Sampling(1, 1, seed), 8, "auto", scene.parent / folder)
    return StageJob(stage, order)


def test_direct_light_of_a_bulb(run):
    """100 cd at 1.5 m are 44.4 lx flat and domed, of which no bounce is a part."""
    result, = run("--option", "full", "--no-spots")
    # Inverse square; the ball has no near field. Dome and flat agree for light straight ahead.
    for receptor in ("flat", "dome"):
        direct = result["incident"]["hook"][receptor]["lamps"]["bulb"]["direct"]
        room = max(0.01 * 44.44, 4 * direct["standard_error"])
        assert abs(direct["value"] - 100 / 2.25) < room
    whole = result["incident"]["hook"]["flat"]["illuminance"]
    assert whole["standard_error"] <= 0.01 * whole["value"]
    parts = [lamp["total"]["value"] for lamp in result["incident"]["hook"]["flat"]["lamps"].values()]
    assert sum(parts) == pytest.approx(whole["value"])
    assert result["reached"]


def test_levels_and_colours_cost_no_rendering(run, monkeypatch):
    """An option with another dimmer and colour is read from what is kept; half is exactly half."""
    full, = run("--option", "full", "--precision", "3 %")
    def refuse(*_, **__):
        raise AssertionError("the engine was started")

    monkeypatch.setattr("previz.rendering.job.open_stage", refuse)
    half, = run("--option", "half", "--precision", "6 %")
    before, after = (each["incident"]["hook"]["flat"]["lamps"] for each in (full, half))
    # A ball is grey until it meets a wall: its direct part follows the level alone.
    assert after["bulb"]["direct"]["value"] == pytest.approx(
        0.5 * before["bulb"]["direct"]["value"])
    assert after["panel"] == before["panel"] | {"share": after["panel"]["share"]}
    assert half["incident"]["hook"]["colour"]["cct"]["value"] > (
        full["incident"]["hook"]["colour"]["cct"]["value"])
    assert [spot["thing"] for spot in half["spots"]] == [spot["thing"] for spot in full["spots"]]


def test_finer_goes_on_from_coarser(scene):
    """A finer precision keeps what is there: the paths of the coarse run are part of it."""
    coarse = StageMeters(stage_job(scene)).incident(Effort(0.04))
    meters = StageMeters(stage_job(scene))
    result = []
    fine = meters.incident(Effort(0.01, on_standing=result.append))
    assert meters.reached
    assert np.all(fine.paths >= coarse.paths)
    assert np.all(fine.relative_error(meters.weights) <= 0.01)
    # The first report is what was found.
    assert 0 < result[0].share < 1
    assert result[-1].unfinished == 0
    # A second run finds all done, and the numbers are the same.
    again = StageMeters(stage_job(scene)).incident(Effort(0.015))
    assert np.array_equal(again.sums, fine.sums)


def test_interrupted_and_resumed_is_the_same_as_undisturbed(scene):
    """What was done before an interrupt is kept, and the end is bit for bit the same."""
    whole = StageMeters(stage_job(scene, folder="one")).incident(Effort(0.01))
    rounds = []

    def stop(state):
        rounds.append(state)
        if len(rounds) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        StageMeters(stage_job(scene, folder="two")).incident(Effort(0.01, on_standing=stop))
    assert list((scene.parent / "two" / "meters").glob("*.npz"))
    resumed = StageMeters(stage_job(scene, folder="two")).incident(Effort(0.01))
    assert np.array_equal(resumed.paths, whole.paths)
    assert np.array_equal(resumed.sums, whole.sums)


def test_finished_meters_are_left_alone(scene):
    """Only meters that are too noisy are traced; a quiet one does not pay for a noisy one."""
    batches = StageMeters(stage_job(scene)).incident(Effort(0.002))
    assert batches.paths.max() > batches.paths.min()


def test_time_runs_out(scene, run):
    """What was not reached is named with the error that it has."""
    result, = run("--option", "full", "--precision", "0.05 %", "--minutes", "0.05", "--no-spots")
    assert not result["reached"]
    assert set(result["not_reached"]) <= {"hook", f"hook{DOME}", "back wall"}
    assert all(0.0005 < error < 0.2 for error in result["not_reached"].values())


def luminance_stderr(frames, lamps):
    """Return the standard error of each pixel's luminance: lamps are sampled independently."""
    by_name = {lamp.name: lamp for lamp in lamps}
    gains = [lamp_band_xyz(by_name[name], frames.slices.shape[1])[:, 1].sum() for name in frames.lights]
    return np.sqrt(np.einsum("l,lrc->rc", np.square(gains), frames.variance))


def test_spot_meter_agrees_with_the_picture(scene):
    """A spot reading is the mean of the thing's pixels, lamp by lamp, within the noise of both."""
    job = stage_job(scene)
    meters, (camera,) = StageMeters(job), job.stage.cameras
    aims = meters.aims(camera, ("crate", "north wall"))
    seen = meters.spots(aims, Effort(0.004))
    # A pinhole of the same view: the spot meter sees from the middle of the lens, all sharp.
    picture = CameraJob(job.buffers, job.stage, replace(camera, lens_radius=0.0), 96, 54,
                        Sampling(128, 8, 5))
    while not picture.finished:
        picture.step()
    frames = picture.frames()
    error = luminance_stderr(frames, job.stage.lamps)
    for i, aim in enumerate(aims):
        pixels = frames.names_index == frames.names.index(aim.name)
        # Pixels on the rim show two things; those inside show one.
        inside = pixels.copy()
        for axis in (0, 1):
            for step in (-1, 1):
                inside &= np.roll(pixels, step, axis)
        assert aim.share == pytest.approx(pixels.mean(), rel=0.05)
        for number, lamp in enumerate(job.stage.lamps):
            xyz = lamp_xyz(frames, lamp)[1]
            weights = lamp_band_xyz(lamp, 8)[:, 1]
            each = np.einsum("kpb,b->k", seen.means[i, :, number], weights)
            spot, spread = each.mean(), each.std(ddof=1) / np.sqrt(BATCHES)
            noise = 4 * np.hypot(spread, np.sqrt((error[pixels] ** 2).sum()) / pixels.sum())
            # The rim is 2 % of the light at most: whole and inside bracket it.
            low, high = sorted((xyz[pixels].mean(), xyz[inside].mean()))
            assert low * 0.97 - noise < spot < high * 1.03 + noise


def test_spot_is_reported_as_the_camera_sees_it(run):
    """Stops, signal, candela and footlamberts of one thing belong together."""
    result, = run("--option", "full", "--spot", "crate", "--precision", "3 %")
    spot, = result["spots"]
    assert (spot["thing"], spot["camera"]) == ("crate", "A")
    nits = spot["luminance"]["value"]
    assert spot["footlamberts"] == pytest.approx(nits / 3.426259, rel=1e-6)
    # signal = pi L t S / (C T²): ISO 2720 with C 250, for T2.8, ISO 800, 1/48 s.
    signal = np.pi * nits * 800 / 48 / (250 * 2.8**2)
    assert spot["stops_from_grey"]["value"] == pytest.approx(np.log2(signal / 0.18))
    settings = CameraSettings(2.8, 800, 1 / 48)
    assert stop_of(1000.0, settings) == pytest.approx(8.165, abs=1e-3)


@pytest.mark.parametrize(("more", "said"), [
    (("--camera", "B"), "no camera 'B'"),
    (("--spot", "crata"), "Did you mean 'crate'"),
    (("--key", "bulbs"), "Did you mean 'bulb'"),
    (("--option", "fulll"), "Did you mean 'full'"),
    (("--precision", "much"), "precision"),
    (("--precision", "90 %"), "write one from"),
    (("--reference", "100 K"), "1600 K to 25000 K"),
    (("--json", "--csv"), "not both"),
])
def test_wrong_words_are_reported(scene, capsys, more, said):
    """A name or number that cannot be used ends with 2 and what to write."""
    with pytest.raises(SystemExit) as end:
        main(["meter", str(scene), *more])
    assert end.value.code == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(("name", "opening"), [
    ("card.json", "{"), ("card.csv", "option,kind"), ("card.txt", "Lamp store: full")])
def test_written_to_a_file(scene, name, opening):
    """The ending of the file picks the form; nothing else is printed to standard output."""
    found = CliRunner().invoke(previz, [
        "meter", str(scene), "--option", "full", "--precision", "20 %", "--bands", "8", "--no-spots",
        "--out", name])
    assert found.exit_code == 0
    assert found.stdout == ""
    assert (scene.parent / name).read_text(encoding="utf-8").startswith(opening)


def test_places_of_a_face():
    """Cheeks, forehead and under the chin flat and domed, the front domed; cheeks face different sides."""
    # Facing south-east; anchors as a figure gives them: (position, normal).
    forward = np.array([1.0, -1.0, 0.0]) / np.sqrt(2)
    anchors = {part: (np.array([0.0, 0.0, 1.6]), forward)
               for part in ("left cheek", "right cheek", "forehead", "under chin", "face")}
    head = Head("clerk", "", anchors["face"][0], anchors["face"][0], forward)
    probes = {probe.name: probe for probe in face_probes(head, anchors)}
    flat = [name for name, probe in probes.items() if not probe.dome]
    assert flat == [f"clerk: {part}" for part in
                    ("left cheek", "right cheek", "forehead", "under chin")]
    assert [name for name, probe in probes.items() if probe.dome] == [
        f"{name}{DOME}" for name in (*flat, "clerk: face")]
    left, right = probes["clerk: left cheek"].normal, probes["clerk: right cheek"].normal
    # The left of one who faces south-east lies north-east.
    assert left @ np.array([1.0, 1.0, 0.0]) > 0.9
    assert left @ right == pytest.approx(0, abs=1e-9)
    assert probes["clerk: under chin"].normal[2] < -0.9
    for probe in probes.values():
        assert np.linalg.norm(probe.normal) == pytest.approx(1)
        # A dome stands off the skin, a flat receptor lies on it.
        away = np.linalg.norm(probe.position - np.array([0, 0, 1.6]))
        assert away == pytest.approx(0.03 if probe.dome else 0.004)


def test_a_meter_is_flat_and_domed():
    """Each place of the scene gets both receptors, facing alike."""
    flat, dome = meter_probes("hook", (1, 2, 3), (0, 0, 5))
    assert (flat.name, dome.name, flat.dome, dome.dome) == ("hook", "hook, dome", False, True)
    assert np.array_equal(flat.normal, [0, 0, 1])


def test_a_meter_that_joins_later_has_its_own_random_numbers(scene, monkeypatch):
    """Rounds are counted on over runs, so a meter never sees the numbers of a round twice."""
    turns, step = [], Gather.step

    def watched(self, *args):
        turns.append(int(self.batches.rounds.max()))
        step(self, *args)

    monkeypatch.setattr(Gather, "step", watched)
    StageMeters(stage_job(scene)).incident(Effort(0.03), ("hook",))
    once = len(turns)
    StageMeters(stage_job(scene)).incident(Effort(0.02), ("hook", "back wall"))
    assert 0 < once < len(turns)
    assert turns == list(range(len(turns)))


# Moved a little in its corner, the panel is in nobody's way; before the hook it is in the bulb's.
ASIDE = ("at: [2.9 m, 0.2 m, 1.5 m], aim: crate", "at: [2.9 m, 0.35 m, 1.5 m], aim: crate")
BEFORE = ("at: [2.9 m, 0.2 m, 1.5 m], aim: crate", "at: [2.1 m, 1 m, 2.2 m], aim: crate")


def moved(scene, change, **more):
    """Run the meters of the scene, move its panel, and return the two stages' meters and sums."""
    before = StageMeters(stage_job(scene, **more))
    old = before.incident(Effort(0.02))
    scene.write_text(SCENE.replace(*change))
    after = StageMeters(stage_job(scene, **more))
    return old, after, after.incident(Effort(0.02))


def test_a_moved_lamp_is_metered_alone(scene, monkeypatch):
    """Light of the lamp that stayed is taken as it was; the moved one agrees with all run anew."""
    lamps, step = [], Gather.step

    def watched(self, *args):
        lamps.append(self.batches.lights)
        step(self, *args)

    monkeypatch.setattr(Gather, "step", watched)
    old, meters, new = moved(scene, ASIDE)
    first = lamps.index(("panel",))
    assert set(lamps[:first]) == {("bulb", "panel")}
    # Where the light that is kept grew noisy against the rest, both are gone on with in the end.
    assert lamps[first:].count(("panel",)) >= 1
    assert meters.reached
    assert 0 < meters.change <= 0.005
    bulb, panel = meters.counts["bulb"], meters.counts["panel"]
    assert bulb[1] > 0
    assert panel[:2] == [0, 0]
    same = [i for i, n in enumerate(new.names) if np.allclose(new.means[i, :, 0], old.means[i, :, 0])]
    assert same
    anew = StageMeters(stage_job(scene, folder="anew")).incident(Effort(0.02))
    weights = meters.weights
    error = np.hypot(*(each.mixed(weights).std(axis=1, ddof=1) / np.sqrt(BATCHES)
                       for each in (new, anew)))
    difference = (new.mixed(weights) - anew.mixed(weights)).mean(axis=1)
    # Half a percent is what bodies may do; the rest is noise, of which 4 is beyond chance.
    room = 4 * error + 0.005 * anew.mixed(weights).mean(axis=1)
    assert np.all(np.abs(difference) < room)
    assert any("run at" in line for line in meters.explained())
    # The same once more costs nothing.
    monkeypatch.setattr("previz.rendering.job.open_stage", None)
    again = StageMeters(stage_job(scene)).incident(Effort(0.02))
    assert np.array_equal(again.sums, new.sums)


def test_a_body_in_between_is_no_light_to_use_again(scene):
    """A panel that now stands between the bulb and a meter makes the bulb's light there anew."""
    old, meters, new = moved(scene, BEFORE)
    assert meters.counts["bulb"][2] > 0
    hook = new.names.index("hook")
    # Little of the straight light of the bulb gets round it to the hook.
    straight = [each.means[hook, :, 0, 0].mean() for each in (old, new)]
    assert straight[1] < 0.1 * straight[0]


def test_exact_uses_no_light_run_with_others(scene):
    """With `exact` all lamps are run where a body stands elsewhere."""
    StageMeters(stage_job(scene)).incident(Effort(0.05))
    scene.write_text(SCENE.replace(*ASIDE))
    job = stage_job(scene)
    job.order = replace(job.order, exact=True)
    meters = StageMeters(job)
    meters.incident(Effort(0.05))
    assert meters.counts["bulb"][1] == 0


def test_exact_trusts_no_file_that_holds_light_run_with_others(scene):
    """What was run with others before is run anew, once, and then is as it stands."""
    StageMeters(stage_job(scene)).incident(Effort(0.05))
    before = set((scene.parent / "cache" / "meters").glob("*.npz"))
    scene.write_text(SCENE.replace(*ASIDE))
    meters = StageMeters(stage_job(scene))
    meters.incident(Effort(0.05))
    job = stage_job(scene)
    job.order = replace(job.order, exact=True)
    mixed = [path for path in set(meters.folder.glob("*.npz")) - before
             if not meters.cache.as_it_stands(path)]
    assert mixed
    StageMeters(job).incident(Effort(0.05))
    assert all(meters.cache.as_it_stands(path) for path in mixed)


def test_a_lamp_run_alone_goes_on_where_it_was_left(scene):
    """Interrupted while one lamp is run, the next run takes up what it had."""
    StageMeters(stage_job(scene)).incident(Effort(0.02))
    scene.write_text(SCENE.replace(*ASIDE))
    turns = []

    def stop(state):
        turns.append(state)
        if len(turns) == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        StageMeters(stage_job(scene)).incident(Effort(0.02, on_standing=stop))
    folder = scene.parent / "cache" / "meters"
    left = list(folder.glob("*-????????.npz"))
    assert left
    resumed = StageMeters(stage_job(scene)).incident(Effort(0.02))
    assert not list(folder.glob("*-????????.npz"))
    other = StageMeters(stage_job(scene, folder="anew")).incident(Effort(0.02))
    weights = StageMeters(stage_job(scene)).weights
    assert np.all(resumed.relative_error(weights) <= 0.02)
    difference = resumed.mixed(weights).mean(axis=1) / other.mixed(weights).mean(axis=1) - 1
    assert np.all(np.abs(difference) < 0.12)
