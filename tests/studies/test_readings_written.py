"""Readings as people write them: units, stops, lamps, columns; every fault at its place."""

import datetime

import pytest

from previz.errors import RequestError
from previz.physics.exposure import marked_stop
from previz.studies.readings.written import (
    FROM_GREY,
    LUX,
    NITS,
    SPOT_STOP,
    STOP,
    ReadingsError,
    filled,
    read_csv,
    readings_in,
    stop,
    typed,
)
from previz.units import UnitError


def written(text, tmp_path):
    file = tmp_path / "day.csv"
    file.write_text(text, encoding="utf-8")
    rows, problems = read_csv(file)
    found, more = readings_in(rows)
    return found, [*problems, *more]


@pytest.mark.parametrize(("text", "number"), [
    ("T2.8", 2**1.5), ("f/4", 4.0), ("F 5.6", 2**2.5), ("11", 2**3.5), ("T2.8 1/3", 2 ** (1.5 + 1 / 6)),
    ("T4 + 2/3", 4 * 2 ** (1 / 3)), ("T4 − 1/3", 4 * 2 ** (-1 / 6)), ("5.6 0.3", 2 ** (2.5 + 0.15)),
    ("T2.8 and", None), ("T2.8 4/3", None), ("0.1", None), ("T2.8 3", None), ("4 1/0", None), ("fast", None),
    (f"T4 {'9' * 400}/3", None)])
def test_stops_as_meters_show_them(text, number):
    """Marks stand for powers of the root of two; thirds and tenths come on top."""
    if number is None:
        with pytest.raises(UnitError, match="is no stop"):
            stop(text)
    else:
        assert stop(text) == pytest.approx(number, rel=1e-12)


def test_marks_of_lenses():
    """Full stops and thirds of ISO 517 (from memory) lie within 3 % of what they stand for."""
    assert [marked_stop(each) for each in (1.4, 2.0, 2.8, 22.0, 3.5, 0.5)] == pytest.approx(
        [2**0.5, 2.0, 2**1.5, 2**4.5, 2 ** (11 / 6), 0.5])
    for mark in (0.7, 1.1, 1.25, 1.8, 2.2, 3.2, 4.5, 6.3, 7.1, 9, 10, 13, 14, 18, 20, 25, 29, 90):
        assert marked_stop(mark) == pytest.approx(mark, rel=0.03) and marked_stop(mark) != mark
    assert marked_stop(3.3) == 3.3


def test_a_table(tmp_path):
    """Heads by any usual word, cells in quotes, comments, semicolons; units by cell or by column."""
    found, problems = written(
        "\ufeffWhere;Value;on;time;Notes;receptor\n# scout\n\n"
        "desk;840 lx;\"key; fill\";16:30;by the lamp;\ndesk;78 fc;all;;;dome\ndesk;T2.8 1/3;;;;flat\n"
        "wall;120 cd/m2;;;;\nwall;-1 stop;;;;\n", tmp_path)
    assert problems == []
    assert [(each.kind, each.shown) for each in found] == [
        (LUX, "840 lx"), (LUX, "78 fc"), (STOP, "T2.8 1/3"), (NITS, "120 cd/m2"), (FROM_GREY, "-1 stop")]
    # 78 foot-candles are 78 / 0.3048² lx.
    assert [each.value for each in found[:2]] == pytest.approx([840.0, 78 / 0.3048**2])
    assert found[0].hour == datetime.time(16, 30) and found[0].lamps.text == "key; fill"
    assert [each.receptor for each in found[:3]] == ["", "dome", "flat"]
    assert found[0].cells["notes"].text == "by the lamp" and found[0].place.line == 4
    other, _ = written("place,lux,iso,shutter,level,colour,error\n"
                       "desk,840,500,1/50,50 %,3200 K,3 %\n", tmp_path)
    assert (other[0].value, other[0].iso, other[0].shutter, other[0].level, other[0].cct, other[0].error) == (
        840, 500, ("time", 0.02), 0.5, 3200, 0.03)
    for column, kind in (("fc,", LUX), ("stop,", STOP), ("spot,T", SPOT_STOP), ("spot,", NITS)):
        head, letter = column.split(",")
        one, _ = written(f"place,{head}\ndesk,{letter}4\n", tmp_path)
        assert one[0].kind == kind


def test_every_fault_at_its_place(tmp_path):
    """All at once, file, line and column, what was written, and what to write."""
    _, problems = written(
        "plaice,reading,lampz,hour\ndesk,84,all,16:30\ndesk,84 lumens,all,25:00\n"
        "desk,-4 lx,\"key,4\ndesk,T9 9/8,all,4pm,more\n", tmp_path)
    said = [(each.line, each.column, each.message) for each in ReadingsError(problems).problems]
    assert said == [
        (1, 1, "there is no column 'plaice'"), (1, 1, "no column says where readings were taken"),
        (1, 16, "there is no column 'lampz'"), *((n, 1, "a reading has no place") for n in (2,)),
        (2, 6, "'84' has no unit"), (3, 1, "a reading has no place"),
        (3, 6, "'84 lumens' is not an illuminance: 'lumens' is no unit of it"),
        (3, 20, "'25:00' is no time of day"), (4, 1, "a reading has no place"),
        (4, 6, "'-4 lx' is less than nothing"), (4, 12, "a quote is not closed"),
        (5, 1, "a reading has no place"), (5, 6, "'T9 9/8' is no stop"), (5, 17, "'4pm' is no time of day"),
        (5, 21, "the line has 5 cells, and there are 4 columns")]
    text = str(ReadingsError(problems))
    assert "day.csv:1:1: there is no column 'plaice'." in text and "Did you mean 'place'?" in text
    assert "Did you mean 'lamp'?" in text and "    2 | desk,84,all,16:30\n      |      ^" in text
    assert "Write '84 lx' or '84 fc', a stop as 'T84', or '84 cd/m2'." in text


def test_a_meter_sheet(tmp_path):
    """A bare number has the unit of what is expected; lines without a reading are counted."""
    file = tmp_path / "sheet.csv"

    def of(*lines):
        file.write_text("place,expected,tolerance,reading\n" + "\n".join(lines), encoding="utf-8")
        rows, problems = read_csv(file)
        rows, empty = filled(rows)
        found, more = readings_in(rows)
        return found, empty, [each.message for each in (*problems, *more)]

    found, empty, wrong = of("desk,840 lx,16 %, 812 ", "desk,840 lx,16 %,78 fc", "wall,1.2 cd/m²,16 %,1.3",
                             "desk,840 lx,16 %,", "shelf,30 lx,20 %,T2.8", "by hand,,,4 lx")
    assert not wrong and empty == 1
    assert [(each.kind, each.shown) for each in found] == [
        (LUX, "812 lx"), (LUX, "78 fc"), (NITS, "1.3 cd/m²"), (STOP, "T2.8"), (LUX, "4 lx")]
    assert found[0].value == 812 and found[2].value == 1.3
    assert of("desk,840 lx,16 %,T99 9/8", "by hand,,,", "by hand,,,84")[2] == [
        "'T99 9/8' is no stop", "a reading has no number", "'84' has no unit"]
    with pytest.raises(RequestError, match="None of the meter sheet's 2 lines has a reading."):
        of("desk,840 lx,16 %,", "shelf,30 lx,20 %,")


def test_typed(tmp_path):
    """Place and reading, then columns by name; lamps may have commas."""
    rows, problems = typed(["clerk left cheek, 420 lx, lamps=key, fill, hour=16:30", "desk, T4"])
    found, more = readings_in(rows)
    assert problems == more == []
    assert found[0].lamps.text == "key, fill" and found[0].hour == datetime.time(16, 30)
    assert (found[1].place.text, found[1].kind, found[1].number) == ("desk", STOP, 2)
    _, wrong = typed(["desk, 4 lx, often", "desk, 4 lx, lamp=key, speed=3"])
    assert [each.message for each in wrong] == ["'often' does not say what it is", "a reading has no 'speed'"]


def test_files_that_are_none(tmp_path):
    """Missing, empty, of bytes, and too large."""
    for name, content, words in (
            ("none.csv", None, "cannot be read"), ("a.csv", b"place,lux\n", "says nothing"),
            ("b.csv", b"\xff\xfe\x00", "is no text"), ("c.csv", b"x" * 2**21, "too large")):
        if content is not None:
            (tmp_path / name).write_bytes(content)
        with pytest.raises(RequestError, match=words):
            read_csv(tmp_path / name)
