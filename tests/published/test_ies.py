"""Photometric files: IES LM-63 in all its editions and types, and EULUMDAT.

Sources: ANSI/IESNA LM-63-02, opening pages and section 3 (read): editions, the sense of horizontal
angles, photometric zero and horizontal; sections 4 and 5 (from memory). EULUMDAT format text to
line 26, the rest from memory. Values of facts tables 6.1 to 6.4. Two general libraries that read
such files, photompy and eulumdat-py, answer the same questions.
"""

import numpy as np
import pytest

from previz.physics.eulumdat import read_eulumdat
from previz.physics.ies import VERSIONS, read_ies
from previz.physics.photometric import halves
from previz.physics.text_file import TextFileError
from previz.stage import shapes


def lm63(vertical, horizontal, candela, *, kind=1, first="IESNA:LM-63-2002", tilt="TILT=NONE",
         head="1 -1 1", unit=2, size=(0, 0, 0), factors="1 1 0"):
    """An LM-63 file; `candela` has a row for each horizontal angle."""
    lines = [first, "[TEST] depot yard", "[MANUFAC] none", tilt]
    lines.append(f"{head} {len(vertical)} {len(horizontal)} {kind} {unit} "
                 + " ".join(f"{each:g}" for each in size))
    lines.append(factors)
    for row in (vertical, horizontal, *candela):
        lines.append(" ".join(f"{each:.9g}" for each in row))
    return "\n".join(line for line in lines if line) + "\n"


def ldt(symmetry, planes, vertical, candela, *, lumens=1000.0, factor=1.0, count=1, sets=1,
        watts=18.0):
    """An EULUMDAT file; `candela` has a row [cd/klm] for each plane that it keeps."""
    lines = ["depot", "3", str(symmetry), str(len(planes)), f"{360 / len(planes):g}",
             str(len(vertical)), "5", "1", "yard lamp", "n1", "yard.ldt", "today"]
    lines += ["1200", "300", "80", "1180", "280", "10", "10", "20", "10"]
    lines += ["100", "90", f"{factor:g}", "0", str(sets)]
    for _ in range(sets):
        lines += [f"{count}", "T8", f"{lumens:g}", "4000", "1B", f"{watts:g}"]
    lines += ["0"] * 10
    lines += [f"{each:g}" for each in (*planes, *vertical)]
    lines += [f"{each:.9g}" for row in candela for each in row]
    return "\r\n".join(lines) + "\r\n"


def towards(c_deg, gamma_deg):
    """Direction of a luminaire that hangs straight down: x east, y north, C counter-clockwise."""
    c, gamma = np.radians(c_deg), np.radians(gamma_deg)
    return np.stack(np.broadcast_arrays(np.sin(gamma) * np.cos(c), np.sin(gamma) * np.sin(c),
                                        -np.cos(gamma)), axis=-1)


def seen(photometry, direction, aim=(0.0, 0.0, -1.0)):
    """Intensity in a direction of the world, of a lamp with a given aim. [cd]"""
    local = np.asarray(direction, float) @ shapes.aimed(aim)
    theta = np.degrees(np.arccos(np.clip(local[..., 2], -1, 1)))
    phi = np.degrees(np.arctan2(local[..., 1], local[..., 0]))
    return photometry.lumens * photometry.table.intensity(theta, phi)


# Check value 6.3: linear interpolation of 1000 cos(gamma) cd, exact 1000 pi; and 100 cd all round.
@pytest.mark.parametrize(
    ("step", "lumens"), [(1, 3141.5), (2.5, 3141.1), (5, 3139.6), (10, 3133.6)]
)
def test_lumens_of_a_cosine(step, lumens):
    """The file's integral is the published one at every step of its angles."""
    angles = np.arange(0, 90 + step / 2, step)
    found = read_ies(lm63(angles, [0], [1000 * np.cos(np.radians(angles))]))
    # The printed values have one decimal.
    assert found.lumens == pytest.approx(lumens, abs=0.06)
    assert found.table.flux() == pytest.approx(1.0)


def test_lumens_of_a_sphere():
    """100 cd all round are 1256.64 lm."""
    found = read_ies(lm63([0, 90, 180], [0], [[100, 100, 100]]))
    assert found.lumens == pytest.approx(1256.64, abs=0.01)


@pytest.mark.parametrize("first", VERSIONS)
def test_every_edition_is_read(first):
    """The first line of each edition from 1986 to 2019 is known (check value 6.1)."""
    assert read_ies(lm63([0, 90], [0], [[10, 10]], first=first)).lumens == pytest.approx(
        2 * np.pi * 10)


def test_a_file_without_its_edition():
    """An unknown first line is an error, not 1986, unless requested (check value 6.1)."""
    text = lm63([0, 90], [0], [[10, 10]], first="Yard lamp, tested at the depot")
    with pytest.raises(TextFileError, match="line 1: 'Yard lamp, tested at the depot' is no edit"):
        read_ies(text)
    assert read_ies(text, unmarked=True).lumens == pytest.approx(2 * np.pi * 10)


def test_numbers_may_be_parted_anyhow():
    """Commas, tabs and new lines anywhere among the numbers, CR LF, a mark at the end."""
    plain = lm63([0, 45, 90], [0, 90], [[9, 6, 3], [8, 4, 2]])
    head, _, numbers = plain.partition("TILT=NONE\n")
    for parted in (numbers.replace(" ", ", "), numbers.replace(" ", "\n"),
                   numbers.replace("\n", " "), numbers.replace("\n", "\r\n") + "\x1a",
                   numbers.replace(" ", "\t")):
        found = read_ies(head + "TILT=NONE\n" + parted)
        assert found.lumens == pytest.approx(read_ies(plain).lumens)


def quadrants(c, gamma):
    """An intensity that is the same in every quadrant. [cd]"""
    c, gamma = np.radians(c), np.radians(gamma)
    return 500 * np.cos(gamma / 2) ** 2 * (1.2 + np.cos(2 * c) * np.sin(gamma) ** 2)


def test_one_lamp_in_every_symmetry():
    """The last horizontal angle states the symmetry: five files of one lamp (check value 6.2)."""
    vertical = np.arange(0, 181, 5.0)
    files = [np.arange(0, last + 1, 15.0) for last in (90, 180, 360)]
    files += [np.arange(90, 271, 15.0), np.arange(0, 346, 15.0)]
    read = [read_ies(lm63(vertical, each, quadrants(each[:, None], vertical[None]))) for each in
            files]
    rng = np.random.default_rng(3)
    direction = rng.normal(size=(200, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    for each in read:
        assert each.lumens == pytest.approx(read[0].lumens, rel=1e-9)
        assert seen(each, direction) == pytest.approx(seen(read[0], direction), rel=1e-9)


def lobe(direction, middle, width=12.0):
    """A round lobe about one direction. [cd]"""
    off = np.degrees(np.arccos(np.clip(direction @ np.asarray(middle), -1, 1)))
    return 4000 * np.exp(-0.5 * (off / width) ** 2)


C90_LOBE = towards(90.0, 50.0)


def c_file(middle=C90_LOBE):
    vertical, planes = np.arange(0, 91, 2.5), np.arange(0, 361, 10.0)
    return lm63(vertical, planes, lobe(towards(planes[:, None], vertical[None]), middle))


def globe(kind, h, v):
    """Direction of type A or B angles of a lamp that points north, H to the right, V up."""
    h, v = np.broadcast_arrays(np.radians(h), np.radians(v))
    if kind == 2:
        return np.stack([np.sin(h), np.cos(h) * np.cos(v), np.cos(h) * np.sin(v)], axis=-1)
    return np.stack([np.sin(h) * np.cos(v), np.cos(h) * np.cos(v), np.sin(v)], axis=-1)


def globe_file(kind, middle):
    angles = np.arange(-90, 91, 2.5)
    return lm63(angles, angles, lobe(globe(kind, angles[:, None], angles[None]), middle), kind=kind)


def test_a_lobe_at_c_90_lights_the_north_wall():
    """Hanging straight down, C 90 is north and C 0 east: counter-clockwise from above.

    LM-63-02: horizontal angles run counter-clockwise for type C (check value 0.8).
    """
    found = read_ies(c_file())
    north, south = (seen(found, towards(c, 50.0)) for c in (90.0, 270.0))
    east = read_ies(c_file(towards(0.0, 50.0)))
    assert north == pytest.approx(4000, rel=1e-3)
    assert south < 1e-3 * north
    assert seen(east, towards(0.0, 50.0)) == pytest.approx(4000, rel=1e-3)
    # Tilted up to shine north, that side of the lamp is its top.
    up = (0, np.cos(np.radians(50)), np.sin(np.radians(50)))
    assert seen(found, up, aim=(0.0, 1.0, 0.0)) == pytest.approx(4000, rel=1e-3)


@pytest.mark.parametrize("kind", [2, 3])
@pytest.mark.parametrize(("h", "v"), [(35.0, 0.0), (0.0, 30.0), (-20.0, -25.0)])
def test_a_lobe_of_type_a_and_b(kind, h, v):
    """H runs clockwise from above, to the right of a lamp that points ahead; V upwards.

    LM-63-02: clockwise for types A and B; type B shares a horizontal axis, A a vertical one.
    """
    middle = globe(kind, h, v)
    found = read_ies(globe_file(kind, middle))
    # Lines between 2.5 degree points under-read a 12 degree lobe by up to 0.6 %.
    assert seen(found, middle, aim=(0.0, 1.0, 0.0)) == pytest.approx(4000, rel=6e-3)
    mirrored = globe(kind, -h, -v)
    assert seen(found, mirrored, aim=(0.0, 1.0, 0.0)) < 0.2 * 4000


def test_one_lobe_in_all_types():
    """Types A, B and C and EULUMDAT of one lamp agree in lumens and in every direction."""
    ahead = np.array([0.15, 0.95, 0.25])
    ahead = ahead / np.linalg.norm(ahead)
    # The lamp of types A and B points north; hung down, north is down and up is north.
    hung = np.array([ahead[0], ahead[2], -ahead[1]])
    vertical, planes = np.arange(0, 181, 2.5), np.arange(0, 360, 5.0)
    candela = lobe(towards(planes[:, None], vertical[None]), hung)
    found = [read_ies(globe_file(3, ahead)), read_ies(globe_file(2, ahead)),
             read_ies(lm63(vertical, planes, candela)),
             read_eulumdat(ldt(0, planes, vertical, candela / 2.5, lumens=2500))]
    rng = np.random.default_rng(4)
    direction = ahead + 0.25 * rng.normal(size=(100, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    expected = lobe(direction, ahead)
    # A Gaussian lobe of 4000 cd and 12 degrees, over the sphere.
    angle = np.radians(np.linspace(0, 90, 4001))
    lumens = 2 * np.pi * np.trapezoid(
        4000 * np.exp(-0.5 * (np.degrees(angle) / 12) ** 2) * np.sin(angle), angle)
    for each in found:
        # 1 %: lines between 2.5 degree points of a 12 degree lobe.
        assert each.lumens == pytest.approx(lumens, rel=0.01)
        assert seen(each, direction, aim=(0.0, 1.0, 0.0)) == pytest.approx(expected, abs=0.01 * 4000)


def test_halves_of_type_b():
    """Horizontal angles from 0 mean the left is the right's mirror image; so we read V as well."""
    angles = np.arange(0, 91, 5.0)
    candela = 1000 * np.exp(-0.5 * ((angles[:, None] / 25) ** 2 + (angles[None] / 15) ** 2))
    found = read_ies(lm63(angles, angles, candela, kind=2))
    for h, v in ((20, 10), (-20, 10), (20, -10), (-20, -10)):
        assert seen(found, globe(2, h, v), aim=(0.0, 1.0, 0.0)) == pytest.approx(
            1000 * np.exp(-0.5 * ((20 / 25) ** 2 + (10 / 15) ** 2)), rel=0.01)


def test_factors():
    """Intensity = value · multiplier · ballast factor, to 1995 also the ballast-lamp factor."""
    for first, expected in (("IESNA:LM-63-1995", 3 * 0.9 * 0.8), ("IESNA:LM-63-2002", 3 * 0.9),
                            ("IES:LM-63-2019", 3 * 0.9)):
        text = lm63([0, 90], [0], [[10, 10]], first=first, head="2 900 3", factors="0.9 0.8 36")
        found = read_ies(text)
        assert found.lumens == pytest.approx(2 * np.pi * 10 * expected)
        assert found.watts == 36


def test_tilt():
    """TILT=INCLUDE multiplies the light of a tilted luminaire; between its angles on lines."""
    tilt = "TILT=INCLUDE\n1\n3\n0 45 90\n1.0 0.9 0.6"
    found = read_ies(lm63([0, 90], [0], [[10, 10]], tilt=tilt))
    assert found.at_tilt(0) == pytest.approx(2 * np.pi * 10)
    assert found.at_tilt(67.5) == pytest.approx(2 * np.pi * 10 * 0.75)
    with pytest.raises(TextFileError, match="line 4: 'TILT=lamp.tlt' should be NONE or INCLUDE"):
        read_ies(lm63([0, 90], [0], [[10, 10]], tilt="TILT=lamp.tlt"))


def test_size_and_light_upwards():
    """Feet become metres, negative sizes are round, and light above the lamp stays above."""
    vertical = [0, 89.9, 90, 180]
    found = read_ies(lm63(vertical, [0], [[0, 0, 30, 30]], unit=1, size=(-1, -1, 0)))
    assert found.size == pytest.approx((0.3048, 0.3048, 0)) and found.round
    (_, ahead), (back, behind) = halves(found.table)
    assert ahead == pytest.approx(0.0, abs=1e-3)
    assert behind == pytest.approx(1.0, abs=1e-3)
    # Even light over the upper half: 1 / (2 pi) cd for each lumen of it.
    assert back.intensity([0, 40, 80]) == pytest.approx(1 / (2 * np.pi), rel=1e-3)
    only = read_ies(lm63([90, 180], [0], [[30, 30]]))
    assert only.lumens == pytest.approx(2 * np.pi * 30)
    assert seen(only, [(0, 0, 1.0), (0, 0, -1.0)]) == pytest.approx([30, 0])


BROKEN = {
    "no tilt": (lambda t: t.replace("TILT=NONE\n", ""), "there is no line that begins with 'TI"),
    "word": (lambda t: t.replace("45", "45deg"), "line 7: '45deg' is not a number"),
    "nan": (lambda t: t.replace("45", "nan"), "line 7: 'nan' is not a number"),
    "short": (lambda t: t.replace("8 4 2\n", "8 4\n"),
              "line 8: the file announces 2 planes of 3 intensities, 6 in all, and 5 numbers follow"),
    "long": (lambda t: t + "7\n", "line 10: 1 numbers are left over after the last intensity"),
    "falling": (lambda t: t.replace("0 45 90", "0 90 45"),
                "line 7: a vertical angle should rise, and 45 follows 90"),
    "type": (lambda t: t.replace("3 2 1 2", "3 2 4 2"),
             "line 5: the photometric type should be a whole number from 1 to 3, not 4"),
    "dark": (lambda t: t.replace("9 6 3", "0 0 0").replace("8 4 2", "0 0 0"),
             "all of its intensities are 0"),
    "negative": (lambda t: t.replace("8 4 2", "8 -4 2"), "line 10: an intensity is -4 cd"),
    "planes": (lambda t: t.replace("\n0 90\n", "\n0 70\n"), "its planes run from 0 to 70 deg, and should"),
    "range": (lambda t: t.replace("0 45 90", "-10 45 90"),
              "line 7: a vertical angle of type C lies from 0 to 180 deg"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_wrong_with_a_file_is_reported_with_its_line(name):
    """A broken file gives one message with the line of the number that cannot be used."""
    change, message = BROKEN[name]
    text = lm63([0, 45, 90], [0, 90], [[9, 6, 3], [8, 4, 2]])
    read_ies(text)
    broken = change(text)
    assert broken != text
    with pytest.raises(TextFileError) as caught:
        read_ies(broken)
    assert str(caught.value).startswith(message)


def test_eulumdat_intensities():
    """386.8106 cd/klm of a lamp of 19 800 lm are 7658.85 cd (check value 6.4)."""
    found = read_eulumdat(ldt(1, np.arange(0, 360, 15.0), [0, 90, 180], [[386.8106] * 3],
                              lumens=19800, watts=250))
    assert seen(found, (0, 0, -1.0)) == pytest.approx(7658.85, abs=0.005)
    assert found.watts == 250
    # Lines 16 and 17 are the luminous area in mm: 1180 long, 280 wide.
    assert found.size == pytest.approx((0.28, 1.18, 0.02))


@pytest.mark.parametrize("symmetry", [0, 2, 3, 4])
def test_one_lamp_in_every_symmetry_of_eulumdat(symmetry):
    """Isym 0, 2, 3 and 4 keep all planes, a half from C 0, a half from C 270, a quarter."""
    vertical, planes = np.arange(0, 181, 5.0), np.arange(0, 360, 15.0)
    kept = {0: planes, 2: np.arange(0, 181, 15.0), 3: np.arange(270, 451, 15.0),
            4: np.arange(0, 91, 15.0)}[symmetry]
    text = ldt(symmetry, planes, vertical, quadrants(kept[:, None], vertical[None]))
    expected = read_ies(lm63(vertical, kept if symmetry == 4 else np.arange(0, 91, 15.0),
                             quadrants(np.arange(0, 91, 15.0)[:, None], vertical[None])))
    found = read_eulumdat(text)
    assert found.lumens == pytest.approx(expected.lumens, rel=1e-8)
    direction = towards(np.linspace(3, 357, 40), np.linspace(5, 170, 40))
    assert seen(found, direction) == pytest.approx(seen(expected, direction), rel=1e-8)


def test_eulumdat_mirrors_to_the_right_side():
    """A lobe at C 90 kept in Isym 3 (mirrored in C 90 to 270) stays at C 90; C 0 in Isym 2."""
    vertical, planes = np.arange(0, 91, 2.5), np.arange(0, 360, 10.0)
    for symmetry, c, kept in ((3, 90.0, np.arange(270, 451, 10.0)),
                              (2, 0.0, np.arange(0, 181, 10.0))):
        middle = towards(c, 50.0)
        text = ldt(symmetry, planes, vertical, lobe(towards(kept[:, None], vertical[None]), middle))
        assert seen(read_eulumdat(text), middle) == pytest.approx(4000, rel=1e-3)
        assert seen(read_eulumdat(text), towards(c + 180, 50.0)) < 4


def test_eulumdat_that_announces_more_sets_of_lamps_than_it_has():
    """Sets are lines, so that their number is held against the file before any of them is read."""
    text = ldt(1, np.arange(0, 360, 15.0), [0, 90, 180], [[1.0] * 3]).splitlines()
    text[25], text[28] = "90", "many"
    with pytest.raises(TextFileError, match="^line 26: the file announces 90 sets of lamps of 6 lines each"):
        read_eulumdat("\n".join(text))


@pytest.mark.parametrize(("planes", "vertical"), [
    ([0.0], [0, 90, 180.5]), ([0.0], [-0.5, 90, 180]), ([0.0, 360.0], [0, 90, 180])])
def test_eulumdat_angles_go_once_round(planes, vertical):
    """Planes from 0 to below 360 deg, and angles in them from 0 to 180; a hair beyond is refused."""
    with pytest.raises(ValueError, match="planes lie from 0 to below 360 deg"):
        read_eulumdat(ldt(0 if len(planes) > 1 else 1, planes, vertical, [[100.0] * 3] * len(planes)))


def test_eulumdat_with_two_sets_of_lamps():
    """The first set counts, and decimals may be written with a comma."""
    text = ldt(1, [0.0], [0, 90, 180], [[100.5] * 3], lumens=2000, sets=2)
    text = text.replace("100.5", "100,5")
    assert read_eulumdat(text).lumens == pytest.approx(4 * np.pi * 201)
    with pytest.raises(TextFileError, match="line 3: the kind of symmetry should be a whole"):
        read_eulumdat(text.replace("\r\n1\r\n", "\r\n7\r\n", 1))


@pytest.mark.parametrize("last", [90, 180, 360])
def test_ies_against_a_general_reader(last):
    """A general reader of such files finds the same intensities and, within its sum, lumens."""
    photompy = pytest.importorskip("photompy")
    rng = np.random.default_rng(last)
    vertical, planes = np.arange(0, 181, 5.0), np.arange(0, last + 1, 30.0)
    candela = 100 + 50 * rng.random((len(planes), len(vertical)))
    candela[:, [0, -1]] = 120.0
    if last == 360:
        candela[-1] = candela[0]
    text = lm63(vertical, planes, candela, head="1 1000 1.5", factors="1 1 30")
    other = photompy.IESFile.read(text).photometry.expanded()
    found = read_ies(text)
    gamma, c = rng.uniform(1, 179, 200), rng.uniform(0, 359, 200)
    theirs = np.array([float(other.get_intensity(g, each)) for g, each in zip(gamma, c,
                                                                              strict=True)])
    assert seen(found, towards(c, gamma)) == pytest.approx(theirs, rel=1e-6)
    # It sums bands about each angle, we integrate lines between them.
    assert found.lumens == pytest.approx(other.total_optical_power(), rel=5e-3)


@pytest.mark.parametrize("symmetry", [0, 1, 2, 3, 4])
def test_eulumdat_against_a_general_reader(symmetry, tmp_path):
    """A general reader of EULUMDAT unfolds every symmetry to the same planes."""
    pyldt = pytest.importorskip("pyldt")
    rng = np.random.default_rng(symmetry)
    vertical, planes = np.arange(0, 181, 10.0), np.arange(0, 360, 30.0)
    kept = {0: 12, 1: 1, 2: 7, 3: 7, 4: 4}[symmetry]
    candela = 100 + 50 * rng.random((kept, len(vertical)))
    candela[:, [0, -1]] = 120.0
    path = tmp_path / "lamp.ldt"
    text = ldt(symmetry, planes, vertical, candela)
    path.write_text(text, newline="")
    theirs = np.array(pyldt.LdtReader.read(path).intensities)
    found = seen(read_eulumdat(text), towards(planes[:, None], vertical[None]))
    assert found == pytest.approx(theirs, rel=1e-6)
