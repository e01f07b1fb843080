"""Grades through OpenColorIO: the ASC CDL's worked example, files, tables and crops."""

import numpy as np
import PyOpenColorIO
import pytest

from previz.exposure.display import show_8bit
from previz.exposure.grading import Cdl, Grade, GradeError, cropped, read_cdl

# check value 6.9: in (0.5, 0.4, 0.3), slope (1.1, 1, 0.9), offset (-0.02, 0, 0.02), power (1.2, 1, 0.9),
# sat 0.8. By the formula of ASC CDL v1.2: SOP (0.466800, 0.4, 0.328215) ->
# (0.455244, 0.401804, 0.344376).
EXAMPLE = Cdl((1.1, 1.0, 0.9), (-0.02, 0.0, 0.02), (1.2, 1.0, 0.9), 0.8)

CC = """<?xml version="1.0"?>
<ColorCorrection id="last light">
 <SOPNode><Slope>1.1 1 0.9</Slope><Offset>-0.02 0 0.02</Offset><Power>1.2 1 0.9</Power></SOPNode>
 <SatNode><Saturation>0.8</Saturation></SatNode>
</ColorCorrection>
"""


def by_the_formula(rgb, cdl):
    """Out = clamp(in · slope + offset) ^ power, then saturation about Rec. 709 luma, clamped."""
    sop = np.clip(np.array(rgb) * cdl.slope + np.array(cdl.offset), 0, 1) ** cdl.power
    luma = sop @ [0.2126, 0.7152, 0.0722]
    return np.clip(luma + cdl.saturation * (sop - luma), 0, 1)


def applied(rgb, cdl):
    """Return a colour after a decision, in whatever space it is."""
    values = np.array(rgb, np.float32).reshape(1, 1, 3)
    config = PyOpenColorIO.Config.CreateRaw()
    config.getProcessor(cdl.transform()).getDefaultCPUProcessor().applyRGB(values)
    return values.ravel()


def test_the_asc_example():
    """The worked example of the ASC CDL, within the library's single precision."""
    found = applied([0.5, 0.4, 0.3], EXAMPLE)
    assert found == pytest.approx([0.455244, 0.401804, 0.344376], abs=1e-5)
    assert found == pytest.approx(by_the_formula((0.5, 0.4, 0.3), EXAMPLE), abs=1e-5)


def test_a_file_says_the_same(tmp_path):
    """A .cc file of the ASC gives the same decision."""
    (tmp_path / "last.cc").write_text(CC, encoding="utf-8")
    read = read_cdl(tmp_path / "last.cc")
    assert np.array([*read.slope, *read.offset, *read.power, read.saturation]) == pytest.approx(
        [1.1, 1, 0.9, -0.02, 0, 0.02, 1.2, 1, 0.9, 0.8])


def test_no_grade_is_the_plain_picture():
    """A neutral decision shows what `display` shows, to the code."""
    picture = np.random.default_rng(1).random((3, 8, 8)) * 0.8
    assert np.array_equal(Grade().show(picture), show_8bit(picture))


def test_a_decision_works_where_it_is_set_to():
    """Slope 2 in linear light is one stop; in ACEScct it is not."""
    picture = np.full((3, 2, 2), 0.09)
    stop = Grade(Cdl((2.0, 2.0, 2.0)), "linear").show(picture)
    assert np.array_equal(stop, show_8bit(np.full((3, 2, 2), 0.18)))
    assert np.any(Grade(Cdl((2.0, 2.0, 2.0))).show(picture) != stop)


def test_a_table_works_on_the_picture_as_shown(tmp_path):
    """A .cube that turns everything over turns the picture over."""
    lines = ["LUT_3D_SIZE 2"]
    lines += [f"{1 - r} {1 - g} {1 - b}" for b in (0, 1) for g in (0, 1) for r in (0, 1)]
    (tmp_path / "over.cube").write_text("\n".join(lines) + "\n", encoding="utf-8")
    picture = np.random.default_rng(2).random((3, 6, 6)) * 0.5
    turned = Grade(table=tmp_path / "over.cube").show(picture).astype(int)
    # One code for rounding there and back.
    assert np.abs(turned + show_8bit(picture) - 255).max() <= 1


def test_an_open_clf_works_as_a_cube_does(tmp_path):
    """A common LUT format file that turns everything over turns the picture over."""
    # Academy/ASC Common LUT Format (S-2014-006): a ProcessList of one Matrix, here 1 - x.
    (tmp_path / "over.clf").write_text("""<?xml version="1.0" encoding="UTF-8"?>
<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="over" compCLFversion="3">
  <Matrix inBitDepth="32f" outBitDepth="32f">
    <Array dim="3 4">-1 0 0 1  0 -1 0 1  0 0 -1 1</Array>
  </Matrix>
</ProcessList>
""", encoding="utf-8")
    picture = np.random.default_rng(2).random((3, 6, 6)) * 0.5
    turned = Grade(table=tmp_path / "over.clf").show(picture).astype(int)
    assert np.abs(turned + show_8bit(picture) - 255).max() <= 1


@pytest.mark.parametrize(("name", "content", "message"), [
    ("gone.cube", None, "There is no file"),
    ("grade.txt", "x", r"cannot be used as a look-up table.\s+Export it again, as .clf or .cube"),
    ("torn.cube", "LUT_3D_SIZE 2\n0 0\n", "line 2 of it cannot be read"),
    ("large.cube", "#" * 2**11, "is 0 MB, and 0 MB are the most"),
    ("leads.clf", '<ProcessList id="x" version="1.3"><Reference path="over.cube"/></ProcessList>',
     "names another file"),
    ("wide.clf", "<\0P\0", "is no text"),
    # Another reader of the library would take this one.
    ("whole.spi1d", "Version 1\nFrom 0.0 1.0\nLength 2\nComponents 1\n{\n0.0\n1.0\n}\n",
     "cannot be used as a look-up table"),
    ("last.cc", "x", "no look-up table but a colour decision"),
])  # fmt: skip
def test_tables_that_cannot_be_used_are_refused(tmp_path, monkeypatch, name, content, message):
    """A missing, foreign, torn or overly large table is reported in words."""
    monkeypatch.setattr("previz.exposure.grading.MOST_BYTES", 2**10)
    if content is not None:
        (tmp_path / name).write_text(content, encoding="utf-8")
    with pytest.raises(GradeError, match=message):
        Grade(table=tmp_path / name)


@pytest.mark.parametrize(("name", "content", "message"), [
    ("gone.cdl", None, "There is no file"), ("table.cube", "x", "is no file of the ASC CDL"),
    ("torn.cdl", "<ColorDecisionList>", "cannot be read as an ASC CDL"),
])  # fmt: skip
def test_decisions_that_cannot_be_read_are_refused(tmp_path, name, content, message):
    """A missing, foreign or torn decision is reported in words."""
    if content is not None:
        (tmp_path / name).write_text(content, encoding="utf-8")
    with pytest.raises(GradeError, match=message):
        read_cdl(tmp_path / name)


@pytest.mark.parametrize("wrong", [
    {"slope": (-1.0, 1, 1)}, {"power": (0.0, 1, 1)}, {"saturation": -0.1},
    {"offset": (np.nan, 0, 0)},
])  # fmt: skip
def test_impossible_decisions_are_refused(wrong):
    """Negative slopes and saturations, powers of nothing and no numbers are errors."""
    with pytest.raises(ValueError, match="a CDL has"):
        Cdl(**wrong)


@pytest.mark.parametrize(("aspect", "shape"), [(2.0, (100, 200)), (4.0, (50, 200)),
                                               (1.0, (100, 100))])
def test_crops_keep_the_middle(aspect, shape):
    """The largest part of the aspect, from the middle."""
    picture = np.zeros((100, 200, 3), np.uint8)
    picture[50, 100] = 255
    cut = cropped(picture, aspect)
    assert cut.shape[:2] == shape
    assert cut[shape[0] // 2, shape[1] // 2].max() == 255
    with pytest.raises(ValueError, match="above 0"):
        cropped(picture, 0.0)
