"""What a lamp's fields become without rendering: colour, files, bodies, paperwork, cautions.

Sources: dimming: check values 4.1, 4.2 ('Lamp rerating', IES Handbook); CIE lamps:
check value 2.4 (Ohno 2013); efficacies: check value 4.3 ('Luminous efficacy' table).
"""


import numpy as np
import pytest

from previz.errors import SceneError
from previz.physics.colourtemp import cct_duv, xy_of
from previz.physics.headlamp import dipped_beam
from previz.physics.spectra import WAVELENGTHS_NM
from previz.scene.light import LIGHTS, Glow
from previz.stage.lights import BUILDERS


def scene(*lamps, more=""):
    """Text of a scene of lamps, each a name, a kind, a place and the rest of its fields."""
    lines = [f"  - {{name: {name}, kind: {kind}, at: [{at[0]} m, {at[1]} m, {at[2]} m], {rest}}}"
             for name, kind, at, rest in lamps]
    return "lights:\n" + "\n".join(lines) + "\n" + more


def test_every_kind_is_built():
    """The scene's kinds and those that the stage can build are the same."""
    assert set(LIGHTS) == set(BUILDERS)


def built(plain, folder, rest, kind="bulb"):
    return plain.stage_of(folder, scene(("lamp", kind, (0, 0, 0), rest))).lamps[0]


@pytest.mark.parametrize(("dimmer", "kelvin"), [("50 %", 2937), ("25 %", 2696)])
def test_a_tungsten_lamp_warms_as_it_is_dimmed(plain, tmp_path, dimmer, kelvin):
    """One stop down from 3200 K is 2937 K, two 2696 K (check value 4.2, ±60 K as a model of lamps)."""
    lamp = built(plain, tmp_path, f"output: 900 lm, cct: 3200 K, dimmer: {dimmer}")
    found, duv = cct_duv(xy_of(lamp.spectrum))
    # Our own exponents are the published ones: 3 K is the rounding of the table.
    assert found == pytest.approx(kelvin, abs=3)
    assert abs(duv) < 2e-4
    assert lamp.level == float(dimmer[:-2]) / 100
    led = built(plain, tmp_path, f"output: 900 lm, cct: 3200 K, spectrum: led, dimmer: {dimmer}")
    assert cct_duv(xy_of(led.spectrum))[0] == pytest.approx(3200, abs=5)


def test_a_dark_tungsten_lamp_has_a_colour(plain, tmp_path):
    """A lamp at almost nothing does not fall below what a spectrum can be made for."""
    lamp = built(plain, tmp_path, "output: 900 lm, cct: 2700 K, dimmer: 0 %")
    assert 1590 < cct_duv(xy_of(lamp.spectrum))[0] < 1700


SPECTRA = {
    "spectrum: two-colour led, cct: 4300 K": (4300, None),
    "spectrum: {warm: 3200 K, cool: 5600 K}, cct: 5600 K": (5600, 0.0),
    "spectrum: multi-emitter led, cct: 3200 K, duv: 0.006": (3200, 0.006),
    "spectrum: metal halide, cct: 5600 K": (5600, 0.0),
    # Check value 2.4: CIE FL2, FL11 and HP1 by Ohno 2013.
    "spectrum: {cie: FL2}": (4225, 0.0019),
    "spectrum: {cie: FL11}": (4001, 0.0002),
    "spectrum: {cie: HP1}": (1962, 0.0008),
    "spectrum: {cie: FL11}, cct: 4300 K, duv: -0.004": (4300, -0.004),
    "spectrum: {cie: FL11}, duv: 0.005": (4001, 0.0052),
}


@pytest.mark.parametrize("fields", SPECTRA)
def test_the_colour_of_a_lamp(plain, tmp_path, fields):
    """Mixed LEDs and tabulated lamps have the requested colour, or their own."""
    kelvin, duv = SPECTRA[fields]
    lamp = built(plain, tmp_path, f"output: 900 lm, {fields}")
    found = cct_duv(xy_of(lamp.spectrum))
    assert found[0] == pytest.approx(kelvin, abs=6)
    if duv is None:
        # A straight line under the curved locus.
        assert -0.01 < found[1] < 0
    else:
        assert found[1] == pytest.approx(duv, abs=5e-4)


def test_measured_spectra_and_gels(plain, tmp_path):
    """A file's spectrum and a file's gel are used as they are."""
    (tmp_path / "lobby.csv").write_text(
        "nm,power\n" + "\n".join(f"{nm},{1 + (nm - 380) / 200}" for nm in range(380, 781, 5)))
    (tmp_path / "sheet.txt").write_text(
        "# percent\n" + "\n".join(f"{nm} {20 + (nm - 380) / 10}" for nm in range(380, 781, 10)))
    lamp = built(plain, tmp_path,
                 "output: 900 lm, spectrum: {file: lobby.csv}, gel: [{file: sheet.txt}, nd 0.3]")
    shape = 1 + (WAVELENGTHS_NM - 380) / 200
    # Ends with a gap, of which the file covers one half.
    assert (lamp.spectrum / lamp.spectrum[40])[1:-1] == pytest.approx((shape / shape[40])[1:-1])
    assert lamp.gel[1:-1] == pytest.approx(
        (0.2 + (WAVELENGTHS_NM - 380) / 1000)[1:-1] * 10**-0.3)


@pytest.mark.parametrize(
    ("fields", "name", "content", "message"),
    [
        ("photometry: a.ies", "a.ies", "IESNA91\nTILT=NONE\n1 -1 1 2 1 1 2 0 0 0\n1 1 x\n",
         "the photometric file 'a.ies': line 4: 'x' is not a number"),
        ("photometry: a.ldt", "a.ldt", "depot\n", "the photometric file 'a.ldt': line 1: the fil"),
        ("output: 9 lm, spectrum: {file: a.csv}", "a.csv", "380,1\n390\n",
         "the spectrum 'a.csv': line 2: there is a wavelength without a value"),
        ("output: 9 lm, gel: {file: a.csv}", "a.csv", "words\n",
         "the gel 'a.csv': there are no two columns of numbers in it"),
        ("output: 9 lm, gel: {mired: +134 mired, transmission: 90 %}", "", "",
         "no gel shifts +134 mired"),
        ("output: 9 lm, spectrum: multi-emitter led, cct: 2000 K, duv: 0.03", "", "",
         "light 'lamp' (bulb): a lamp of 6 colours does not reach 2000 K"),
    ],
)
def test_a_measurement_that_cannot_be_used(plain, tmp_path, fields, name, content, message):
    """It is reported at the scene's own line, with the line of the file."""
    if name:
        (tmp_path / name).write_text(content)
    with pytest.raises(SceneError) as caught:
        built(plain, tmp_path, fields)
    problem = caught.value.problems[0]
    assert (problem.line, problem.message[: len(message)]) == (3, message)


@pytest.mark.parametrize("cls", [cls for cls in LIGHTS.values() if cls is not Glow])
def test_every_lamp_has_a_body_and_paperwork(plain, tmp_path, cls):
    """Each kind has a body of sound triangles by its name, and its watts and weight are kept."""
    stage = plain.stage_of(tmp_path, "lights:\n" + plain.lamp_text(
        cls, "lamp", (0, 0, 0), output="900 lm", watts="60 W", weight="4 kg"))
    bodies = [mesh for mesh in stage.meshes if mesh.name == "lamp"]
    assert bodies and all(mesh.role == "lamp" for mesh in bodies)
    for mesh in bodies:
        corners = mesh.vertices[mesh.faces]
        double = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert np.all(np.isfinite(corners)) and np.all(np.linalg.norm(double, axis=1) > 0)
    rig = stage.rig[0]
    assert (rig.kind, rig.watts, rig.weight) == (cls.kind, 60.0, 4.0)
    assert stage.lamps[0].output == 900


def test_a_candle_needs_no_output(plain, tmp_path):
    """A candle is 1 cd to the side, about 12 lm (check value 4.3: 12.57 lm at 1 cd all round)."""
    lamp = built(plain, tmp_path, "duv: 0", kind="candle")
    # A flame sends less up and down than to the side. A thin upright cylinder that is a third as bright along
    # its outline as straight out, I = sin t (1/3 + 2/3 pi/4 sin t), has 8.96 lm for each candela to the side.
    assert 8.96 < lamp.output < 12.57
    assert cct_duv(xy_of(lamp.spectrum))[0] == pytest.approx(1900, abs=2)


def test_a_headlamps_candela_are_its_brightest(plain, tmp_path):
    """A dipped beam's stated candela are those of its hot spot, not of the dark above the edge."""
    lamp = built(plain, tmp_path, "aim: [0 m, 3 m, 0 m], output: 30 kcd", kind="headlamp")
    assert lamp.output == pytest.approx(30_000 / dipped_beam().peak)


def test_cautions_of_lamps(plain, tmp_path):
    """Heat near cloth, flames, arcs, what hangs overhead and how heavy, and odd efficacies."""
    text = scene(
        ("flame", "candle", (0, 0, 1), "duv: 0"),
        ("arc", "daylight lamp", (0, 0, 3), "aim: [0 m, 3 m, 1 m], output: 90 klm, watts: 200 W, "
         "weight: 40 kg"),
        ("key", "fresnel", (5, 0, 2.5), "aim: [5 m, 3 m, 1 m], output: 9000 lm"),
        more=("diffusion:\n  - {name: silk, size: [2 m, 2 m], before: key, distance: 0.8 m}\n"
              "flags:\n  - {name: cutter, size: [2 m, 0.2 m], at: [0.5 m, 0.3 m, 1 m], "
              "facing: [0.5 m, 3 m, 1 m]}\n"))
    lines = "\n".join(plain.stage_of(tmp_path, text).cautions)
    assert lines.startswith("Planning aid only.")
    assert "Overhead: arc, key, silk." in lines and "stated weight: 40 kg" in lines
    assert "Ask for the weight of the rest." in lines
    # Where every weight is known, none is asked for; where none is, all are; cloth has none that is stated.
    arc = ("arc", "daylight lamp", (0, 0, 3), "aim: [0 m, 3 m, 1 m], output: 90 klm, weight: 40 kg")
    silk = "diffusion: [{name: silk, size: [1 m, 1 m], at: [9 m, 9 m, 4 m], facing: [9 m, 0 m, 0 m]}]\n"
    for things, more, told in (((arc,), "", ""), ((arc,), silk, " Ask for the weight of the rest."),
                               ((("low", "bulb", (0, 0, 1), "output: 900 lm"),), silk,
                                " Ask for their weights.")):
        (said,) = (line for line in plain.stage_of(tmp_path, scene(*things, more=more)).cautions
                   if line.startswith("Overhead"))
        assert (("stated weight: 40 kg." if arc in things else "the clamp.") + told) in said
        assert ("Ask for" in said) == bool(told)
    assert "Heat: key is 0.8 m from silk" in lines
    # The edge of the cutter is nearer than its middle.
    assert "Heat: flame is 0.3 m from cutter" in lines
    assert "Open flame: flame." in lines and "Arc lamps:" in lines
    assert "Check: arc would give 450 lm/W; metal halide sources give 65 to 115" in lines


def test_a_file_with_coarse_angles_is_pointed_out(plain, tmp_path):
    """A beam under four steps of its angles over-reads its lumens (check value 0.11)."""
    for step, reported in ((10, True), (1, False)):
        angles = np.arange(0, 91, step)
        # cos^40: 21 degrees to the half.
        candela = 1000 * np.cos(np.radians(angles)).clip(0) ** 40
        (tmp_path / "spot.ies").write_text(
            f"IESNA91\nTILT=NONE\n1 -1 1 {len(angles)} 1 1 2 0 0 0\n1 1 0\n"
            + "\n".join(" ".join(f"{x:.7g}" for x in row) for row in (angles, [0], candela)))
        stage = plain.stage_of(tmp_path, scene(("lamp", "bulb", (0, 0, 0),
                                                "photometry: spot.ies")))
        assert any("wider apart" in line for line in stage.cautions) == reported
        exact = 2 * np.pi * 1000 / 41
        # Check value 0.11: +9.4 % at 10 degrees by linear interpolation.
        assert stage.lamps[0].output == pytest.approx(exact * (1.094 if reported else 1), rel=0.002)
