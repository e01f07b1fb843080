"""Text with a unit to a number and back."""

import math
import re

import pytest

from previz.units import DIMENSIONS, UnitError, parse, pattern, quote, show

# The international foot is 0.3048 m and the inch 25.4 mm, exactly (international yard and pound
# agreement, 1959). A foot-candle is a lumen on a square foot: 10.763910 lx (facts table 3.10).
WRITTEN = [
    ("1.2 m", "length", 1.2),
    ("120cm", "length", 1.2),
    ("35 mm", "length", 0.035),
    ("4 ft", "length", 1.2192),
    ("18 in", "length", 0.4572),
    ("5' 6\"", "length", 1.6764),  # 66 in
    ("5'6\"", "length", 1.6764),
    ("5 ft 6 in", "length", 1.6764),
    ("5’ 6”", "length", 1.6764),
    ("-5' 6\"", "length", -1.6764),
    ("6'", "length", 1.8288),
    ('6"', "length", 0.1524),
    ("2 m 30", "length", 2.3),
    ("2 m 30 cm", "length", 2.3),
    ("2 m 05", "length", 2.05),
    ("-2 m 30", "length", -2.3),
    ("−0.5 m", "length", -0.5),
    (".5 m", "length", 0.5),
    ("  1.2   m ", "length", 1.2),
    ("26 deg", "angle", 26.0),
    ("26°", "angle", 26.0),
    ("-90 deg", "angle", -90.0),
    ("450 lm", "flux", 450.0),
    ("5.6 klm", "flux", 5600.0),
    ("9000 cd", "intensity", 9000.0),
    ("9 kcd", "intensity", 9000.0),
    ("6000 lx", "illuminance", 6000.0),
    ("6 klx", "illuminance", 6000.0),
    ("3200 K", "temperature", 3200.0),
    ("3.2 kK", "temperature", 3200.0),
    ("650 W", "power", 650.0),
    ("2 kW", "power", 2000.0),
    ("26 lm/W", "efficacy", 26.0),
    ("2 s", "time", 2.0),
    ("20 ms", "time", 0.02),
    ("1/48 s", "time", 1 / 48),
    ("80 %", "fraction", 0.8),
    ("80%", "fraction", 0.8),
    ("0.8", "fraction", 0.8),
    ("-1 stop", "stops", -1.0),
    ("+0.5 stops", "stops", 0.5),
    ("0.02 /m", "density", 0.02),
    ("0.02/m", "density", 0.02),
    ("+134 mired", "mired", 134.0),
    ("-67 mired", "mired", -67.0),
    ("24", "number", 24.0),
    ("010", "number", 10.0),
    ("1e3", "number", 1000.0),
    ("16:9", "ratio", 16 / 9),
    ("2.39:1", "ratio", 2.39),
    ("1.85", "ratio", 1.85),
    ("T2.8", "t_stop", 2.8),
    ("T 2.8", "t_stop", 2.8),
    ("2.8", "t_stop", 2.8),
]


@pytest.mark.parametrize(("text", "dimension", "value"), WRITTEN)
def test_parse_reads_what_people_write(text, dimension, value):
    """Each form of a quantity gives its value in the unit used inside."""
    # Decimal factors are applied exactly and rounded once, so the result is the nearest double.
    assert parse(text, dimension) == value


def test_foot_candle_is_a_lumen_on_a_square_foot():
    """One foot-candle is 10.7639 lx."""
    # 1/0.3048²; the stored factor has 20 digits, a double has 16.
    assert parse("1 fc", "illuminance") == pytest.approx(1 / 0.3048**2, rel=1e-15)


REFUSED = [
    ("1.2", "length", "'1.2' has no unit", "Write '1.2 m'."),
    ("-3", "length", "'-3' has no unit", "Write '-3 m'."),
    ("3200", "temperature", "'3200' has no unit", "Write '3200 K'."),
    ("26", "angle", "'26' has no unit", "Write '26 deg'."),
    ("1,2 m", "length", "'1,2 m' has a comma for a decimal point", "Write '1.2 m'."),
    ("1,2", "length", "'1,2' has a comma for a decimal point", "Write '1.2'."),
    ("", "length", "nothing is written", "Write a length, for example '1.2 m'."),
    ("tall", "length", "'tall' is not a length", "Write for example '1.2 m'."),
    (
        "3 kg",
        "length",
        "'3 kg' is not a length: 'kg' is no unit of it",
        "Write it in m, cm, mm, ft or in, for example '1.2 m'.",
    ),
    ("3 metres", "length", "'3 metres' is not a length: 'metres' is no unit of it", "Write '3 m'."),
    ("3 FT", "length", "'3 FT' is not a length: 'FT' is no unit of it", "Write '3 ft'."),
    (
        "3200 k",
        "temperature",
        "'3200 k' is not a colour temperature: 'k' is no unit of it",
        "Write '3200 K'.",
    ),
    (
        "800 lux",
        "illuminance",
        "'800 lux' is not an illuminance: 'lux' is no unit of it",
        "Write '800 lx'.",
    ),
    (
        "24 fps",
        "number",
        "'24 fps' is not a number: it takes no unit",
        "Write '24'.",
    ),
    ("16-9", "ratio", "'16-9' is not a picture ratio", "Write for example '16:9'."),
    ("16:0", "ratio", "'16:0' divides by 0", "Write for example '16:9'."),
    ("1/0 s", "time", "'1/0 s' divides by 0", "Write for example '1/48 s'."),
    ("1/48", "time", "'1/48' is not a time in seconds", "Write '1/48 s'."),
    (
        "f/2.8",
        "t_stop",
        "'f/2.8' is an f-number, not a T-stop",
        "Write the T-stop of the lens, for example 'T2.8'.",
    ),
    (
        "5' 6",
        "length",
        "'5' 6' does not say that '6' is inches",
        "Write '5 ft 6 in'.",
    ),
    (
        "5 ft 14 in",
        "length",
        "'5 ft 14 in' has 14 inches after the feet",
        "Write fewer than 12 inches after the feet, or only inches.",
    ),
    (
        "2 m 5",
        "length",
        "'2 m 5' can be read in two ways",
        "Write '2 m 5 cm' or '2.5 m'.",
    ),
    (
        "2 m 130 cm",
        "length",
        "'2 m 130 cm' has 130 cm after the metres",
        "Write fewer than 100 cm after the metres, or only centimetres.",
    ),
    ("1e999 m", "length", "'1e999 m' is too large a number", "Write a smaller one."),
    ("1e999:1", "ratio", "'1e999:1' is too large a number", "Write a smaller one."),
    ("nan", "number", "'nan' is not a number", "Write for example '24'."),
    ("inf m", "length", "'inf m' is not a length", "Write for example '1.2 m'."),
    ("1_000 m", "length", "'1_000 m' is not a length: '_000 m' is no unit of it",
     "Write it in m, cm, mm, ft or in, for example '1.2 m'."),
    ("٣ m", "length", "'٣ m' is not a length", "Write for example '1.2 m'."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "message", "advice"), REFUSED)
def test_parse_says_what_to_write(text, dimension, message, advice):
    """A text that is no such quantity is refused with what is wrong and what to write."""
    with pytest.raises(UnitError) as caught:
        parse(text, dimension)
    assert (caught.value.message, caught.value.advice) == (message, advice)
    assert str(caught.value) == f"{message}. {advice}"


def test_advice_for_a_bare_number_is_itself_accepted():
    """What a message says to write for a bare number can be read."""
    for dimension, kind in DIMENSIONS.items():
        if kind.bare:
            continue
        with pytest.raises(UnitError) as caught:
            parse("1.5", dimension)
        suggested = re.fullmatch(r"Write '(.*)'\.", caught.value.advice)[1]
        assert parse(suggested, dimension) == 1.5


def test_suggestions_can_be_those_of_a_field():
    """A caller can choose the unit and the example that messages suggest."""
    with pytest.raises(UnitError, match=r"Write '35 mm'\."):
        parse("35", "length", usual="mm")
    with pytest.raises(UnitError, match=r"Write for example '800'\."):
        parse("fast", "number", example="800")


def test_examples_are_quantities():
    """The example of each sort of quantity can be read."""
    for name, kind in DIMENSIONS.items():
        assert math.isfinite(parse(kind.example, name))


SHOWN = [
    (1.2, "length", "1.2 m"),
    (0.035, "length", "35 mm"),
    (-0.05, "length", "-50 mm"),
    (0.0, "length", "0 m"),
    (12.0, "length", "12 m"),
    (26.0, "angle", "26 deg"),
    (5600.0, "flux", "5600 lm"),
    (1234567.0, "illuminance", "1234567 lx"),
    (0.8, "fraction", "80 %"),
    (1 / 48, "time", "1/48 s"),
    (0.3, "time", "0.3 s"),
    (2.0, "time", "2 s"),
    (-1.0, "stops", "-1 stop"),
    (0.5, "stops", "+0.5 stops"),
    (0.0, "stops", "0 stops"),
    (133.93, "mired", "+133.9 mired"),
    (0.00002, "density", "0.00002 /m"),
    (2.8, "t_stop", "T2.8"),
    (24.0, "number", "24"),
    (-0.0, "number", "0"),
    (1.78, "ratio", "1.78"),
]


@pytest.mark.parametrize(("value", "dimension", "text"), SHOWN)
def test_show_writes_as_people_do(value, dimension, text):
    """A quantity is shown in its usual unit with no needless digits."""
    assert show(value, dimension) == text


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_show_can_be_read_back(dimension):
    """What `show` writes, `parse` reads, to the four digits shown."""
    for value in (0.0123, 0.5, 1.0, 12.5, 4321.0, 98765.4):
        # Half of the fourth digit: 5e-4 of a value that begins with 1.
        assert parse(show(value, dimension), dimension) == pytest.approx(value, rel=5e-4)


@pytest.mark.parametrize(("text", "dimension", "value"), WRITTEN)
def test_pattern_takes_what_parse_takes(text, dimension, value):
    """The pattern of a schema takes everything that can be read, but for typeset quotes."""
    plain = text.replace("’", "'").replace("”", '"').replace("−", "-")
    assert re.search(pattern(dimension), plain)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [("1.2", "length"), ("3 kg", "length"), ("3200", "temperature"), ("1/48", "time"),
     ("f/2.8", "t_stop"), ("16-9", "ratio"), ("24 fps", "number"), ("5' 6", "length")],
)  # fmt: skip
def test_pattern_refuses_what_parse_refuses(text, dimension):
    """The pattern of a schema refuses a missing or a wrong unit."""
    assert not re.search(pattern(dimension), text)


def test_quote_keeps_messages_short_and_printable():
    """A person's text is cut to 60 characters, and control characters become question marks."""
    assert quote("x" * 61) == f"'{'x' * 60}...'"
    assert quote("a\x1b[31mb\n") == "'a?[31mb?'"
