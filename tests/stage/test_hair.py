"""Hair, beards, brows and lashes of the stand-in figures: where strands are, and what they do with light."""

from __future__ import annotations

import numpy as np
import pytest

from previz.physics.optics import normal_reflectance
from previz.physics.skin import HAIR_COLOURS, HAIR_INDEX, hair_reflectance, luminance_reflectance
from previz.scene import figure as written
from previz.stage.figures.appearance import surfaces_of
from previz.stage.figures.beard import BEARDS, BORDER, beard
from previz.stage.figures.build import FigureSpec, build_figure, check_spec
from previz.stage.figures.growing import FADE, roots
from previz.stage.figures.hair import DOWN, STYLES, UNDER_A_HAT, falling, hair
from previz.stage.figures.mesh import cross, unit
from previz.stage.figures.people import PEOPLE
from previz.stage.figures.scalp import direction, scalp
from previz.stage.figures.skin import head_shape
from previz.stage.figures.strands import TONES, ribbons, strand_places
from previz.stage.figures.tones import scalp_tones, strand_colour, strand_tones

WORN = [(person, style) for person in PEOPLE for style in STYLES if style != "none"]


def heights(person, points, *, ears=False):
    """Return how high points are over the skull. [m]"""
    skull = scalp(person)
    gap = points - skull.centre
    distance = np.linalg.norm(gap, axis=1)
    return distance - skull.reach(gap / distance[:, None], ears=ears)


@pytest.mark.parametrize(("person", "style"), WORN[::2])
def test_hair_is_within_its_limits(person, style):
    """Enough triangles to cover a head and no more than a picture can bear; none deep in the skull."""
    made = hair(person, style)
    points, faces, normals = made.strands
    whole = len(faces) + (0 if made.shell is None else len(made.shell[1]))
    assert 40_000 < whole < 150_000
    assert np.all(np.isfinite(points)) and len(made.places) == len(points) == len(normals)
    # Roots start in the skin; the skull's table is good to a millimetre, and half a ribbon is 0.5 mm.
    assert heights(person, points).min() > -4e-3
    assert np.quantile(heights(person, points), 0.01) > -1.5e-3
    assert made.places.min() >= 0 and made.places.max() <= 1


@pytest.mark.parametrize("style", [style for style in STYLES if style != "none"])
def test_both_sides_have_as_much(style):
    """Of a person whose hair parts in the middle neither side has much more hair than the other."""
    points = hair("person six", style).strands[0]
    left = np.mean(points[:, 1] > 0)
    assert left == pytest.approx(0.5, abs=0.04)


def test_roots_thin_out_over_a_stated_width():
    """At the hairline a few roots, half of them half-way in, all of them from `FADE` inwards."""
    skull = scalp("person one")
    all_of, kept = (skull.from_line(roots(skull, 40_000, 5, fade=fade)) for fade in (1e-9, FADE))
    shares = []
    for low in np.arange(0, 1.5, 0.25):
        there = [np.sum((each > low * FADE) & (each < (low + 0.25) * FADE)) for each in (all_of, kept)]
        shares.append(there[1] / there[0])
    assert shares[0] < 0.15 and shares[-1] > 0.95
    # No step: between neighbouring strips of 3 mm coverage never changes by more than a third.
    assert np.all(np.diff(shares) > -0.05) and np.max(np.diff(shares)) < 0.45
    assert skull.from_line(roots(skull, 40_000, 5)).min() > -1e-6


def test_the_scalp_darkens_without_a_step():
    """From the hairline inwards roots show more and more through the skin, by 6 % a row of 1 mm at most."""
    share = scalp_tones("black").tile[::-1, 0, 0]
    assert share[0] == 0 and 0.5 < share[-1] < 1
    assert np.all(np.diff(share) >= 0) and np.max(np.diff(share)) < 0.06


def test_hanging_hair_keeps_off_the_face():
    """No strand of a bob or of long hair hangs over the eyes or the mouth."""
    for person in ("person one", "person two", "person six"):
        skull, shape = scalp(person), head_shape(person)
        front = shape.points[:, 0].max() - 0.045
        for style in ("bob", "long"):
            points = hair(person, style).strands[0]
            low = points[points[:, 2] < skull.eye_height + 0.2 * skull.height]
            over = (low[:, 0] > front) & (np.abs(low[:, 1]) < 0.045)
            assert over.mean() < 0.004, (person, style)


def test_long_hair_falls_where_things_fall():
    """Of a head on its back long hair lies behind it, not down its neck."""
    upright = hair("person two", "long")
    lying = hair("person two", "long", (-1.0, 0.0, 0.0))
    limit = scalp("person two").centre[0] - 0.09
    behind = [np.mean(made.strands[0][:, 0] < limit) for made in (upright, lying)]
    assert behind[1] > behind[0] + 0.15
    assert lying.strands[0][:, 2].mean() > upright.strands[0][:, 2].mean() + 0.02


def test_heads_share_what_is_made():
    """A head that nods by 20 deg has the hair of one that is upright; one that lies has not."""
    def nodding(degrees):
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        return falling(np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]]))

    assert nodding(20) == nodding(-20) == nodding(0) == DOWN
    assert nodding(-90) == pytest.approx((-1, 0, 0))


def test_a_hat_presses_hair():
    """Above its rim hair is as thin as `UNDER_A_HAT`; below it, as it was."""
    bare, under = (hair("person two", "curls", DOWN, rim) for rim in (None, 0.05))
    before, after = bare.strands[0], under.strands[0]
    skull = scalp("person two")
    above = before[:, 2] > skull.eye_height + 0.06
    # Half a ribbon more at an edge: 0.3 mm.
    assert heights("person two", after[above]).max() < UNDER_A_HAT + 3e-4
    assert heights("person two", before[above]).max() > 4 * UNDER_A_HAT
    low = before[:, 2] < skull.eye_height + 0.03
    np.testing.assert_allclose(after[low], before[low], atol=1e-12)


@pytest.mark.parametrize("style", [style for style in BEARDS if style != "none"])
def test_beards_grow_on_the_lower_face(style):
    """Under the nose and the ears, on both sides alike, from the skin outwards, and never on the lips."""
    for person in ("person one", "person three"):
        grown, shape, skull = beard(person, style), head_shape(person), scalp(person)
        roots_of = np.einsum("ij,ijk->ik", grown.shares, shape.points[grown.rows])
        np.testing.assert_allclose(grown.shares.sum(axis=1), 1.0, atol=1e-12)
        assert roots_of[:, 2].max() < skull.eye_height + 0.01
        assert np.mean(roots_of[:, 1] > 0) == pytest.approx(0.5, abs=0.05)
        out = unit(np.einsum("ij,ijk->ik", grown.shares, shape.normals[grown.rows]))
        ends = grown.strands[0].reshape(len(roots_of), -1, 2, 3).mean(axis=2)[:, -1]
        assert np.mean(np.einsum("ij,ij->i", ends - roots_of, out) > 0) > 0.9
        assert len(grown.strands[1]) < 90_000


def test_a_beard_has_no_hard_border():
    """Across its upper border on the cheek a beard goes from none to all within about its stated width."""
    grown, shape = beard("person one", "short"), head_shape("person one")
    root = np.einsum("ij,ijk->ik", grown.shares, shape.points[grown.rows])
    cheek = root[(root[:, 1] > 0.045) & (root[:, 0] > 0.09) & (root[:, 0] < 0.115)]
    top = cheek[:, 2].max()
    number, _ = np.histogram(cheek[:, 2], bins=np.linspace(top - 0.03, top, 11))
    # The topmost 3 mm have under a third of what is a border's width farther down.
    assert number[-1] < number[-1 - int(BORDER / 3e-3)] / 3


def test_a_beard_goes_with_the_jaw():
    """With the jaw open the hairs of the chin come down as far as the chin does, those of the lip do not."""
    shut, wide = (build_figure(FigureSpec("person one", beard="stubble", jaw_open=jaw)) for jaw in (0.0, 0.8))
    moved = wide.part("beard").vertices - shut.part("beard").vertices
    skin, opened = (built.part("skin").vertices for built in (shut, wide))
    near = np.linalg.norm(skin - shut.anchors["chin"][0], axis=1) < 0.012
    chin = np.mean((opened - skin)[near], axis=0)
    assert chin[2] < -5e-3
    near = np.linalg.norm(shut.part("beard").vertices - shut.anchors["chin"][0], axis=1) < 0.012
    assert moved[near, 2].mean() == pytest.approx(chin[2], abs=2e-3)
    over_lip = shut.part("beard").vertices[:, 2] > shut.anchors["mouth"][0][2] + 0.015
    over_lip &= np.abs(shut.part("beard").vertices[:, 1]) < 0.012
    assert np.sum(over_lip) > 100 and np.abs(moved[over_lip, 2]).max() < 0.5 * -chin[2]


def test_the_anchors_of_the_head_stay():
    """Beards leave every anchor in its place but those under them, and hair those of the face."""
    bare, grown = (build_figure(FigureSpec("person one", hair=style, beard=chin)).anchors
                   for style, chin in (("none", "none"), ("crop", "stubble")))
    for name in ("eyes", "left eye", "nose", "forehead", "left cheek", "left ear", "neck", "chest"):
        np.testing.assert_allclose(grown[name][0], bare[name][0], atol=1e-12, err_msg=name)
    for name in ("chin", "mouth", "under chin"):
        assert np.linalg.norm(grown[name][0] - bare[name][0]) < 3e-3, name


@pytest.mark.parametrize("colour", HAIR_COLOURS)
def test_light_through_a_lock_is_coloured_and_no_more_than_came(colour):
    """Strands send on less than they get in every tone, and what comes through is coloured."""
    made = surfaces_of(written.Figure(name="one", at=(0.0, 0.0, 0.0), facing=0.0, skin="light",
                                      hair_colour=colour, hair="long"))
    strands = made["strands"]
    pattern = strands.pattern
    share, factor = pattern.tile[..., 0].ravel(), pattern.tile[..., 1].ravel()
    for which in (np.argmin(share), np.argmax(share), np.argmax(factor), np.argmin(factor)):
        own = (strands.reflectance * (1 - share[which]) + pattern.second * share[which]) * factor[which]
        assert (own + strands.transmission).max() < 1
    assert strands.transmission.min() > 0
    # From memory, Marschner et al. 2003: light through a hair is coloured, light off its surface is not.
    assert np.ptp(strands.specular) == 0
    assert strands.specular[0] == pytest.approx(((1.55 - 1) / (1.55 + 1)) ** 2)
    assert normal_reflectance(HAIR_INDEX) == pytest.approx(strands.specular[0])
    if colour in ("brown", "fair", "red"):
        assert strands.transmission[60] > 1.2 * strands.transmission[20]
    # Along a hair its shine is narrow, across it wide.
    assert strands.roughness < 0.2 < strands.across


@pytest.mark.parametrize("colour", HAIR_COLOURS)
def test_strands_have_the_colour_of_the_whole(colour):
    """The mean over strands, white ones among them, is the colour's own albedo to 8 %."""
    pattern, light = strand_tones(colour), np.ones(81)
    share, factor = pattern.tile[..., 0, None], pattern.tile[..., 1, None]
    mean = ((strand_colour(colour) * (1 - share) + pattern.second * share) * factor).mean(axis=(0, 1))
    assert luminance_reflectance(mean, light) == pytest.approx(
        luminance_reflectance(hair_reflectance(colour), light), rel=0.08)
    # Roots are darker than tips, and strands differ.
    assert np.all(pattern.tile[:, 0, 1] <= pattern.tile[:, -1, 1])
    assert np.std(pattern.tile[:, 8, 1]) > 0.05


def test_ribbons_are_round_for_light():
    """Normals of the two edges lean apart by twice the rounding, and corners run along and across."""
    line = np.linspace(0, 1, 4)[None, :, None] * np.array([0.0, 0.0, 1.0])
    out = np.broadcast_to(np.array([1.0, 0.0, 0.0]), line.shape)
    points, faces, normals = ribbons(line, out, np.array([0.1]), roll=np.zeros(1), rounding=0.5)
    pairs = normals.reshape(-1, 2, 3)
    np.testing.assert_allclose(np.einsum("ij,ij->i", pairs[:, 0], pairs[:, 1]), np.cos(1.0), atol=1e-12)
    assert points.shape == (8, 3) and faces.shape == (6, 3)
    # Where u grows is where the strand goes, so that `across` is square to it.
    places = strand_places(1, 4, 3).reshape(4, 2, 2)
    assert np.all(np.diff(places[:, 0, 0]) > 0) and np.all(places[:, 0, 1] < places[:, 1, 1])
    assert np.all(np.floor(places[..., 1] * TONES) == np.floor(places[0, 0, 1] * TONES))


def test_cross_products_are_numpys():
    """The quick product gives what numpy's does."""
    one = direction(np.array([0.3, 2.0]), np.array([0.1, -1.0]))
    two = direction(np.array([1.0, -2.0]), np.array([0.4, 0.9]))
    np.testing.assert_allclose(cross(one, two), np.cross(one, two), atol=1e-15)


def test_words_of_scenes_are_those_that_are_made():
    """A scene can write every style and beard that there is, and a wrong one is named with what to write."""
    assert written.HAIR == STYLES or set(written.HAIR) == set(STYLES)
    assert written.BEARDS == BEARDS
    found = check_spec(FigureSpec("person one", hair="quiff", beard="goatee"))
    assert [each.field for each in found] == ["hair", "beard"]
    assert "curls" in found[0].advice and "stubble" in found[1].advice
