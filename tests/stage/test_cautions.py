"""A scene carries those cautions that it calls for, with its own numbers, and no others.

Sources: loads: check value 7.1; heat: check values 1.1, 1.2, 1.6, 1.16; flames, arcs, heights: common
practice, no source; wood: check value 7.8; infrared at eyes: check value 7.9; blue light: check value 7.6;
stands, gels, batteries, generators, cables: common practice or from memory, as their texts say.
"""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from previz.deliver.reminders import phrases
from previz.physics.lamps import EFFICACY_LM_PER_W
from previz.physics.mains import EFFICACY, SUPPLY_POWER_FACTOR
from previz.physics.optical_hazard import black_body_efficacy, black_body_infrared
from previz.physics.safety import few
from previz.physics.wind import wind_force
from previz.scene.light import LIGHTS
from previz.scene.read import load
from previz.stage import shapes
from previz.stage.bright import face_luminance, luminance_text, seconds_text
from previz.stage.build import build_stage
from previz.stage.cautions import OVERHEAD, for_changed
from previz.stage.feeds import cable_caution, feed_cautions, generator_caution
from previz.stage.heat import distance, illuminance_at, watts_text
from previz.stage.records import Emitter

AIM = "aim: [0 m, 3 m, 1.5 m], "
LED = "kind: panel, at: [0 m, 0 m, 1.5 m], " + AIM + "size: [1 m, 1 m], output: 1000 lm, spectrum: led"
SPOT = "kind: fresnel, at: [0 m, 0 m, 1.5 m], " + AIM + "lens: 250 mm, beam: 20 deg, output: 2000 lm"
ROOM = "room: {size: [4 m, 4 m, 3 m], surfaces: {floor: concrete}}\n"
SILK = ("diffusion:\n  - {name: silk, size: [2 m, 2 m], transmission: 0.5, at: [0 m, %s m, 1.5 m], "
        "facing: [0 m, 0 m, 1.5 m]}\n")
CLERK = "figures:\n  - {name: clerk, person: person one, pose: standing, at: [0 m, %s m], facing: 270 deg}\n"
SMALL = ("boards:\n  - {name: card, size: [0.4 m, 0.6 m], surface: white card, at: [0 m, 3 m, 1.5 m], "
         "facing: [0 m, 0 m, 1.5 m]}\n")
BEFORE = "diffusion:\n  - {name: silk, size: [2 m, 2 m], transmission: 0.5, before: one, distance: 1.5 m}\n"
GELLED = SPOT + ", spectrum: tungsten, gel: half ctb"
ON_PIPE = SILK.replace("}", ", hung: pipe}")
HEADLAMP = "kind: headlamp, at: [0 m, 0 m, 1 m], aim: [0 m, 3 m, 1 m], output: 900 lm"
INSIDE = LED.replace("[0 m, 0 m, 1.5 m]", "[2 m, 1 m, %s m]", 1)
FULL = "ground: %s\ndaylight: {sky: overcast, illuminance: 100 lx}\n"


def lamps(*texts):
    """Lamps of a scene, called one, two, ..."""
    names = ("one", "two", "three")
    lines = [f"  - {{name: {n}, {each}}}\n" for n, each in zip(names, texts, strict=False)]
    return "lights:\n" + "".join(lines)


def reminders(plain, folder, text):
    return plain.stage_of(folder, text).reminders


def kinds(plain, folder, text):
    return [each.kind for each in reminders(plain, folder, text)]


CALLED_FOR = {
    # kind: a scene that calls for it, the same without its cause, and words that must be said.
    "flame": (lamps("kind: candle, at: [0 m, 0 m, 1 m]"), lamps(LED), "Open flame: one"),
    "heat": (lamps(SPOT) + SILK % 0.8, lamps(SPOT) + SILK % 3, "one is 0.8 m from silk"),
    "heat, of cold light": (lamps(SPOT) + SILK % 0.8, lamps(SPOT + ", spectrum: led") + SILK % 0.8, ""),
    "heat, of a lamp that is off": (lamps(SPOT) + SILK % 0.8, lamps(SPOT + ", on: no") + SILK % 0.8, ""),
    "infrared": (lamps(SPOT.replace("2000 lm", "20 klm")) + CLERK % 3, lamps(SPOT) + CLERK % 3, "clerk"),
    "overhead": (lamps(LED.replace("1.5 m]", "2.1 m]")), lamps(LED), "Overhead: one"),
    "overhead, hung low": (lamps(LED + ", hung: cord"), lamps(LED + ", hung: wall plate"), "Overhead: one"),
    "boom": (lamps(LED + ", hung: boom"), lamps(LED), "Boom: one"),
    "height": (lamps(LED.replace("1.5 m]", "3.4 m]")), lamps(LED), "to 3.4 m"),
    "outdoors": (ROOM + FULL % "gravel" + lamps(LED.replace("at: [0 m", "at: [5 m")),
                 ROOM + FULL % "gravel" + lamps(LED), "Outside: one"),
    "outdoors, no room": (FULL % "gravel" + lamps(LED), lamps(LED), "Outside: one"),
    "outdoors, wet": (FULL % "wet asphalt" + lamps(LED), FULL % "wet asphalt", "on wet ground: one"),
    "haze": (lamps(LED) + "haze: {density: 0.02 /m}\n", lamps(LED), "4 to 13 mg/m³"),
    "bright": (lamps(SPOT), lamps(SPOT + ", on: no"), "Bright: one"),
    "arc": (lamps(SPOT + ", spectrum: metal halide"), lamps(SPOT), "Arc lamps: one"),
    "mains": (lamps(LED), lamps(LED + ", on: no"), "Mains: 12 W"),
    "mains, of a headlamp": (
        lamps(LED), lamps(HEADLAMP), ""),
    "battery": (lamps(HEADLAMP), lamps(HEADLAMP + ", on: no"), "Batteries: one"),
    "gels": (lamps(GELLED), lamps(GELLED.replace("tungsten", "led")), "Gels on hot lamps: one"),
    "gels, none": (lamps(GELLED), lamps(SPOT), ""),
    "wind": (FULL % "gravel" + SILK % 3, ROOM + FULL % "gravel" + SILK % 3, "Wind: silk"),
    "wind, of little": (FULL % "gravel" + SILK % 3, FULL % "gravel" + SMALL, ""),
    "wind, of what a lamp holds": (FULL % "gravel" + SILK % 3, FULL % "gravel" + lamps(LED) + BEFORE, ""),
    "wind, on a pipe": (FULL % "gravel" + SILK % 3, FULL % "gravel" + ON_PIPE % 3, ""),
    "wind, nowhere outside": (FULL % "gravel" + SILK % 3, SILK % 3, ""),
    "stands": (lamps(LED.replace("1.5 m]", "2.4 m]", 1)), lamps(LED), "Stands: one"),
    "stands, of a large sheet": (SILK % 3, SMALL, "Stands: silk"),
    "stands, under a ceiling": (ROOM + lamps(INSIDE % 2.4), ROOM + lamps(INSIDE % 2.6), "Stands: one"),
}


@pytest.mark.parametrize("case", CALLED_FOR)
def test_a_caution_is_there_where_it_is_called_for_and_nowhere_else(plain, tmp_path, case):
    """Each sort of caution comes with its cause and goes without it; it has a source and says who decides."""
    kind, (with_it, without, words) = case.partition(",")[0], CALLED_FOR[case]
    found = [each for each in reminders(plain, tmp_path, with_it) if each.kind == kind]
    assert found and words in found[0].brief
    assert found[0].source and f"Source: {found[0].source}" in found[0].text
    assert any(word in found[0].text for word in ("decide", "licensed"))
    assert kind not in kinds(plain, tmp_path, without)


def test_a_scene_that_calls_for_nothing_says_nothing(plain, tmp_path):
    """A dark lamp within reach leaves nothing to say on paper; files still say who decides."""
    stage = plain.stage_of(tmp_path, lamps(LED + ", on: no"))
    assert stage.reminders == ()
    assert [each[:19] for each in stage.cautions] == ["Planning aid only. "]


def test_lamps_that_are_set_otherwise_call_for_other_cautions(plain, tmp_path):
    """A lamp that is switched off by a change is as one that the file has off; notes stay."""
    path = tmp_path / "scene.yaml"
    for state in ("", ", on: no"):
        path.write_text("previz: 1\n" + lamps(SPOT + state) + SILK % 0.8, encoding="utf-8")
        scene = load(path).scene()
        if not state:
            stage, lit = build_stage(scene), scene
    assert {"heat", "bright", "mains"} <= {each.kind for each in stage.reminders}
    assert for_changed(scene, stage) == build_stage(scene).reminders
    assert for_changed(lit, stage) == stage.reminders


def test_every_kind_has_its_cautions_from_its_record(plain, tmp_path):
    """What burns is a flame, what has an arc is one, and all others but a vehicle's draw from the mains."""
    for cls in LIGHTS.values():
        if "piece" in cls.sample:
            continue
        found = kinds(plain, tmp_path, "lights:\n" + plain.lamp_text(cls, "lamp", (0, 0, OVERHEAD - 0.5)))
        assert ("flame" in found) == bool(cls.flame), cls.kind
        assert ("mains" in found) == (cls.mains and not cls.flame), cls.kind
        default = next(each.default for name, each in cls.__dataclass_fields__.items() if name == "spectrum")
        assert ("arc" in found) == (default == "metal halide"), cls.kind


def test_the_load_on_each_circuit(plain, tmp_path):
    """Watts and amperes by Ohm's law and the power factor; 80 % of 20 A are 16 (check value 7.1)."""
    text = "mains: {voltage: 120 V, circuit: 20 A}\n" + lamps(
        SPOT + ", watts: 2000 W, circuit: wall one",
        LED + ", watts: 900 W, power_factor: 0.6, circuit: wall two", LED + ", circuit: wall two")
    one, two = sorted((each for each in reminders(plain, tmp_path, text) if each.kind == "mains"),
                      key=lambda each: each.brief)
    # 2 kW at 120 V are 16.67 A, over 16: the device would have to be of 20.8 A.
    assert one.brief == ("Circuit wall one: 2000 W, 16.7 A at 120 V: one alone is too much for a circuit; "
                         "a 20 A circuit holds 16 A in continuous use")
    guess = 1000 / EFFICACY["led"]
    amperes = 900 / (120 * 0.6) + guess / (120 * SUPPLY_POWER_FACTOR)
    drawn = f"{900 + guess:.0f} W, {amperes:.1f} A at 120 V"
    assert two.brief.startswith(f"Circuit wall two: {drawn}, 1 of 2 lamps guessed")
    assert one.urgency < two.urgency


@pytest.mark.parametrize(("watts", "circuits"), [(900, 1), (1500, 2), (2900, 2), (2950, 3)])
def test_lamps_without_a_circuit_are_shared_out(plain, tmp_path, watts, circuits):
    """16 A hold 12.8 A, 2944 W at 230 V, in continuous use (check value 7.1); two lamps of as many watts."""
    each = SPOT + f", watts: {watts} W"
    load, = (c for c in reminders(plain, tmp_path, lamps(each, each)) if c.kind == "mains")
    expected = math.ceil(2 * watts / (0.8 * 16 * 230))
    assert ("circuits" in load.brief) == (expected > 1 and watts < 2944)
    assert expected == circuits
    if circuits > 1 and watts < 2944:
        assert f"at least {circuits} circuits" in load.brief


def disc(radius=0.5, table=None):
    """A disc about the origin that shines along +y."""
    vertices, faces = shapes.disc(radius, sides=96)
    axes = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]).T
    return Emitter(0, "disc", vertices @ axes.T, faces, table=table, world_from_light=axes, flat=True)


@pytest.mark.parametrize(("ahead", "lux"), [(1.0, 628.319), (2.0, 184.800)])
def test_light_of_a_disc_on_its_axis(ahead, lux):
    """A receptor on the axis of a disc of 1000 cd/m² (check value 1.2); M = pi L (check value 1.16)."""
    lumens = 1000 * math.pi * (math.pi * 0.25)
    got = lumens * illuminance_at(disc(), np.array([[0.0, ahead, 0], [0.0, -ahead, 0]]))
    # Receptors turn to each piece of the face, which near by is up to an eighth more than one that is square.
    assert lux <= got[0] <= 1.13 * lux and got[1] == 0.0


def test_light_far_away_goes_by_the_square():
    """A ball of 100 lm gives 100 / 4 pi r² (check value 1.1)."""
    vertices, faces = shapes.ball(0.03, subdivisions=2)
    ball = Emitter(0, "ball", vertices, faces)
    point = np.array([[0.0, 4, 0]])
    assert 100 * illuminance_at(ball, point)[0] == pytest.approx(100 / (4 * np.pi * 16), rel=0.01)
    # Of a mesh of many faces some stand for all.
    vertices, faces = shapes.ball(0.03, subdivisions=5)
    assert len(faces) > 10_000
    fine = Emitter(0, "ball", vertices, faces)
    assert illuminance_at(fine, point)[0] == pytest.approx(illuminance_at(ball, point)[0], rel=0.06)


def test_heat_of_a_tungsten_lamp(plain, tmp_path):
    """The heat is the light over the lumens of a filament's watts; past what set wood alight it says so."""
    near = SPOT.replace("2000 lm", "60 klm") + ", cct: 3200 K"
    stage = plain.stage_of(tmp_path, lamps(near) + SILK % 1.5 + CLERK % 6)
    found = {each.kind: each for each in stage.reminders}
    middle = np.array([[0.0, 1.5, 1.5]])
    lux = 60e3 * sum(illuminance_at(each, middle) for each in stage.emitters)[0]
    kilowatts = lux / black_body_efficacy(3200) / 1000
    assert kilowatts > 4.3
    assert f"one is 1.5 m from silk, up to {kilowatts:.2g} kW/m² there" in found["heat"].brief
    assert "4.3 set wood alight within hours" in found["heat"].brief
    assert found["heat"].source == "Babrauskas 2001"
    # The silk between does not count.
    skin = np.concatenate([mesh.vertices for mesh in stage.meshes if mesh.role == "figure"])[::50]
    most = 60e3 * float(np.max(illuminance_at(stage.emitters[0], skin))) / black_body_efficacy(3200)
    assert len(stage.emitters) == 1
    assert found["infrared"].amount == pytest.approx(most * black_body_infrared(3200), rel=0.03)


def test_a_narrow_beam_is_met_wherever_it_falls_on_a_large_cloth(plain, tmp_path):
    """The heat is that of the middle of the beam, though the cloth is far wider; behind the lamp is none."""
    beam = ("kind: parallel beam, at: [0 m, 0 m, 1.5 m], aim: [0 m, %s m, 1.5 m], beam: 4 deg, "
            "output: 20 klm, spectrum: metal halide")
    sheet = ("diffusion:\n  - {name: silk, size: [6 m, 6 m], transmission: 0.5, at: [0.33 m, 4 m, 1.3 m], "
             "facing: [0.33 m, 0 m, 1.3 m]}\n")
    stage = plain.stage_of(tmp_path, lamps(beam % 3) + sheet)
    heat, = (each for each in stage.reminders if each.kind == "heat")
    lux = 20e3 * illuminance_at(stage.emitters[0], np.array([[0.0, 4.0, 1.5]]))[0]
    assert heat.amount == pytest.approx(lux / 65, rel=0.01) and heat.amount > 1000
    assert "heat" not in kinds(plain, tmp_path, lamps(beam % -3) + sheet)


def test_heat_on_window_glass(plain, tmp_path):
    """An arc close outside a window heats its glass more than the sun does; far off it does not."""
    room = ("room: {size: [4 m, 4 m, 3 m], surfaces: {floor: concrete}, openings: [{name: pane, wall: west, "
            "along: 1 m, sill: 1 m, size: [1 m, 1 m]}]}\n")
    arc = ("kind: daylight lamp, at: [%s m, 1.5 m, 1.5 m], aim: [3 m, 1.5 m, 1.5 m], output: 100 klm")
    texts = {far: [each for each in reminders(plain, tmp_path, room + lamps(arc % far))
                   if each.word == "heat on glass"] for far in (-1.5, -40)}
    assert len(texts[-1.5]) == 1 and texts[-40] == []
    assert "one is 1.4 m from pane" in texts[-1.5][0].brief
    assert texts[-1.5][0].amount > 1000
    assert EFFICACY_LM_PER_W["metal halide"][0] == 65


def test_luminance_of_faces(plain, tmp_path):
    """A Lambertian square metre of 1 lm has 1/pi cd/m² (check value 1.16); a beam its peak over its area."""
    stage = plain.stage_of(tmp_path, lamps(LED, SPOT))
    assert face_luminance(stage.emitters[:1]) == pytest.approx(1 / np.pi, rel=0.01)
    beam = stage.emitters[1]
    peak = beam.table.peak * beam.share
    assert face_luminance([beam]) == pytest.approx(peak / (np.pi * 0.125**2), rel=0.02)
    assert face_luminance([]) == 0.0


def test_how_long_a_lamp_may_be_looked_at(plain, tmp_path):
    """The time is 10^6 over the blue-light radiance (check value 7.6); a colder lamp has less of it."""
    times = []
    for kelvin in (3200, 5600):
        lamp = SPOT.replace("2000 lm", "9000 lm") + f", spectrum: blackbody, cct: {kelvin} K"
        bright, = (each for each in reminders(plain, tmp_path, lamps(lamp)) if each.kind == "bright")
        times.append(1e6 / bright.amount)
    # K_B,v of black bodies of 3200 and 5600 K: 0.38 and 0.85 mW/lm, by the same weights.
    assert times[0] / times[1] == pytest.approx(0.85 / 0.38, rel=0.05)


def test_distance_from_a_board():
    """To its nearest point: over its face, beside it, and off its corner."""
    edges = np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 2.0])
    for point, far in (((0.5, 3, 1), 3), ((4, 0, 0), 3), ((4, 0, -6), 5), ((0.2, 0, 0.1), 0)):
        assert distance(np.array(point, float), edges) == pytest.approx(far)


def test_a_sort_of_caution_is_said_once_and_counted(plain, tmp_path):
    """Of several lamps near cloth the hottest is named, and that there are more."""
    text = lamps(SPOT, SPOT.replace("2000 lm", "500 lm"), SPOT.replace("2000 lm", "700 lm")) + SILK % 0.8
    said = phrases([each for each in reminders(plain, tmp_path, text) if each.kind == "heat"])
    assert len(said) == 1 and said[0].startswith("Heat: one is 0.8 m from silk")
    assert said[0].endswith("(common practice). And more like it.")


def test_amounts_are_told_in_two_figures():
    """Heat, luminance and time have the unit that crews would say them in."""
    assert [watts_text(each) for each in (4.6, 104.0, 999.0, 1000.0, 7794.0)] == [
        "4.6 W/m²", "100 W/m²", "1000 W/m²", "1 kW/m²", "7.8 kW/m²"]
    assert [luminance_text(each) for each in (25e3, 340e3, 3.04e6)] == ["25 kcd/m²", "340 kcd/m²", "3 Mcd/m²"]
    assert [seconds_text(each) for each in (0.634, 45.2, 89.0, 100.0, 840.0)] == [
        "0.63 s", "45 s", "89 s", "2 min", "14 min"]


def test_what_is_more_urgent_stands_first(plain, tmp_path):
    """Flames, heat, a load that no circuit holds, wet ground, what hangs, air, glare; what fits is last."""
    text = FULL % "wet asphalt" + "haze: {density: 0.02 /m}\n" + SILK % 0.8 + lamps(
        SPOT.replace("1.5 m]", "2.5 m]", 1) + ", circuit: one", "kind: candle, at: [0 m, 0.6 m, 1.5 m]",
        LED + ", watts: 4000 W, circuit: two")
    found = [each.kind for each in reminders(plain, tmp_path, text) if each.kind != "note"]
    assert list(dict.fromkeys(found)) == [
        "flame", "heat", "mains", "outdoors", "overhead", "wind", "haze", "bright", "height", "stands"]
    assert found.count("mains") == 2 and found[-1] == "mains"
    dry = kinds(plain, tmp_path, text.replace("wet asphalt", "gravel"))
    assert dry.index("overhead") < dry.index("outdoors") < dry.index("haze")


def test_the_wind_on_a_frame(plain, tmp_path):
    """F = c rho v² / 2 A: 1.2 x 1.25 x 100 / 2 = 75 N a square metre, 300 N on 2 m by 2 m, 31 kg.

    Sources: EN 1991-1-4 for rho, Hoerner 1965 for c of a square plate (from memory).
    """
    assert wind_force(4.0) == pytest.approx(300.0) and wind_force(4.0, 20.0) == pytest.approx(1200.0)
    with pytest.raises(ValueError, match="0 or more"):
        wind_force(-1.0)
    text = FULL % "gravel" + SILK % 3 + SMALL
    wind, = (each for each in reminders(plain, tmp_path, text) if each.kind == "wind")
    assert "10 m/s pushes silk with 300 N" in wind.brief and wind.names == ("silk",)
    assert "silk of 4 m² with up to 300 N, the weight of 31 kg" in wind.text and wind.amount == 4.0


def test_a_generator_is_cautioned_against_where_it_feeds_lamps():
    """Outside, its exhaust, its earth; nothing without it, and nothing where no lamp is on."""
    lamp = SimpleNamespace(name="one", on=True, dimmer=1.0, mains=True, flame=False)
    mains = SimpleNamespace(generator=SimpleNamespace(volt_amperes=20_000.0))
    found, = feed_cautions(SimpleNamespace(mains=mains, lights=[lamp]))
    assert found.kind == "generator" and found.brief.startswith("Generator of 20 kVA: outside")
    assert "carbon monoxide has no smell" in found.text and "licensed electrician" in found.text
    assert generator_caution().brief.startswith("Generator: outside")
    off = SimpleNamespace(**{**vars(lamp), "on": False})
    assert not list(feed_cautions(SimpleNamespace(mains=mains, lights=[off])))
    for none in (SimpleNamespace(), SimpleNamespace(generator=None)):
        assert not list(feed_cautions(SimpleNamespace(mains=none, lights=[lamp])))


def test_cables_across_ways():
    """What is crossed is named; a long list is cut short on paper and whole in the text."""
    found = cable_caution(["the door", "a", "b", "c", "clerk's way to window"])
    assert found.brief.startswith("Cables cross the door, a, b and 2 more: a ramp")
    assert "clerk's way to window. Lead them" in found.text and found.amount == 5
    assert "decide" in found.text and found.text.endswith("Source: common practice, no source.")
    with pytest.raises(ValueError, match="cross nothing"):
        cable_caution([])


@pytest.mark.parametrize(("count", "said"), [
    (1, "a"), (3, "a, b, c"), (4, "a, b, c, d"), (5, "a, b, c and 2 more")])
def test_a_long_list_of_names_is_cut_short(count, said):
    """No name is left out for its own sake: 'and 1 more' is as long as a name."""
    assert few(tuple("abcde"[:count])) == said
