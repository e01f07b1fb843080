"""Text with a unit to a number, and back: '5.6 klm', '1/48 s', '2 m 30', '5' 6"'.

Inside previz everything is SI, with angles in degrees. Only this module knows how a person writes a
quantity. A number that needs a unit and has none is refused: '1.2' could be metres or feet.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal

LONGEST_QUANTITY = 200
"""Most characters of a quantity, single spaces counted; a number to its last digit has 30. [characters]"""

SHOWN_CHARACTERS = 60
"""Longest piece of a person's own text that is repeated in a message. [characters]"""


class UnitError(ValueError):
    """A text is not the quantity it should be.

    Parameters
    ----------
    message : str
        What is wrong, beginning with the text in quotes; no full stop.
    advice : str
        What to write; a sentence.
    """

    def __init__(self, message: str, advice: str):
        super().__init__(message, advice)
        self.message = message
        self.advice = advice

    def __str__(self):
        return f"{self.message}. {self.advice}"


@dataclass(frozen=True)
class Dimension:
    """A sort of quantity and how it is written.

    Parameters
    ----------
    noun : str
        What it is called, with its article.
    units : dict of str to str
        Unit, as written, to its size in the unit used inside, as exact decimal text. '' stands for
        a bare number, where one is allowed.
    usual : str
        The unit to suggest, and the one `show` uses.
    example : str
        A value, as written.
    """

    noun: str
    units: dict[str, str]
    usual: str
    example: str

    @property
    def bare(self) -> bool:
        """True where a number without a unit is allowed."""
        return "" in self.units


# ft and in: the international foot, 0.3048 m exactly. lb: the international pound, 0.45359237 kg
# exactly. fc: one lumen on a square foot, 1/0.3048² lx; the quotient does not end, so it is given to
# 20 digits.
DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension(
        "a length", {"m": "1", "cm": "0.01", "mm": "0.001", "ft": "0.3048", "in": "0.0254"}, "m", "1.2 m"),
    "angle": Dimension("an angle", {"deg": "1", "°": "1"}, "deg", "26 deg"),
    "flux": Dimension("a luminous flux", {"lm": "1", "klm": "1000"}, "lm", "450 lm"),
    "intensity": Dimension("a luminous intensity", {"cd": "1", "kcd": "1000"}, "cd", "9000 cd"),
    "illuminance": Dimension(
        "an illuminance", {"lx": "1", "klx": "1000", "fc": "10.763910416709722308"}, "lx", "6000 lx"),
    "luminance": Dimension("a luminance", {"cd/m2": "1", "cd/m²": "1"}, "cd/m2", "400 cd/m2"),
    "temperature": Dimension("a colour temperature", {"K": "1", "kK": "1000"}, "K", "3200 K"),
    "power": Dimension("a power", {"W": "1", "kW": "1000"}, "W", "650 W"),
    "apparent power": Dimension("an apparent power", {"VA": "1", "kVA": "1000"}, "VA", "20 kVA"),
    "voltage": Dimension("a voltage", {"V": "1", "kV": "1000"}, "V", "230 V"),
    "current": Dimension("a current", {"A": "1"}, "A", "16 A"),
    "frequency": Dimension("a frequency", {"Hz": "1", "kHz": "1000"}, "Hz", "50 Hz"),
    "mass": Dimension("a weight", {"kg": "1", "g": "0.001", "lb": "0.45359237"}, "kg", "12 kg"),
    "efficacy": Dimension("a luminous efficacy", {"lm/W": "1"}, "lm/W", "26 lm/W"),
    "time": Dimension("a time", {"s": "1", "ms": "0.001"}, "s", "1/48 s"),
    "hours": Dimension("a number of hours", {"h": "1"}, "h", "10 h"),
    "fraction": Dimension("a fraction", {"": "1", "%": "0.01"}, "%", "80 %"),
    "stops": Dimension("a number of stops", {"stop": "1", "stops": "1"}, "stops", "-1 stop"),
    "density": Dimension("a density of haze", {"/m": "1"}, "/m", "0.02 /m"),
    "mired": Dimension("a mired shift", {"mired": "1"}, "mired", "+134 mired"),
    "number": Dimension("a number", {"": "1"}, "", "24"),
    "ratio": Dimension("a picture ratio", {"": "1"}, "", "16:9"),
    "t_stop": Dimension("a T-stop", {"": "1"}, "", "T2.8"),
}
"""Every sort of quantity by name."""

# Spellings that are understood only well enough to say what to write instead.
_SPELT = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "centimetres": "cm",
    "centimeters": "cm", "millimetres": "mm", "millimeters": "mm", "foot": "ft", "feet": "ft",
    "inch": "in", "inches": "in", "degree": "deg", "degrees": "deg", "lumen": "lm",
    "lumens": "lm", "candela": "cd", "candelas": "cd", "lux": "lx", "footcandle": "fc",
    "footcandles": "fc", "kelvin": "K", "kelvins": "K", "watt": "W", "watts": "W",
    "hertz": "Hz", "hour": "h", "hours": "h",
    "volt": "V", "volts": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
    "second": "s", "seconds": "s", "sec": "s", "percent": "%", "1/m": "/m", "m^-1": "/m",
    "per m": "/m", "mireds": "mired", "lm per w": "lm/W",
}  # fmt: skip

_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_QUANTITY = re.compile(rf"([+-]?)\s*({_NUMBER})\s*(.*)")
_DECIMAL_COMMA = re.compile(r"[+-]?\s*[0-9]+,[0-9]+\s*[^0-9,]*")
_FEET_INCHES = re.compile(rf"([+-]?)\s*({_NUMBER})\s*(?:ft|')\s*({_NUMBER})\s*(in|\"|)")
_METRES_CENTIMETRES = re.compile(rf"([+-]?)\s*([0-9]+)\s*m\s*({_NUMBER})\s*(cm|)")
_PART_OF_A_SECOND = re.compile(r"([0-9]+)\s*/\s*([0-9]+)\s*(.*)")
_RATIO = re.compile(rf"({_NUMBER})\s*:\s*({_NUMBER})")
_LETTERED_STOP = re.compile(rf"T\s*/?\s*({_NUMBER})")
_FOCAL_RATIO = re.compile(rf"[fF]\s*/?\s*({_NUMBER})")
_MARKS = str.maketrans({"’": "'", "′": "'", "”": '"', "″": '"', "−": "-", "\u00a0": " "})


def quote(text: str) -> str:
    """Return a person's own text in quotes, cut short and without control characters.

    Parameters
    ----------
    text : str
        What they wrote.

    Returns
    -------
    str
        The text between single quotes, at most `SHOWN_CHARACTERS` of it.
    """
    clean = "".join(letter if letter.isprintable() else "?" for letter in text)
    if len(clean) > SHOWN_CHARACTERS:
        clean = f"{clean[:SHOWN_CHARACTERS]}..."
    return f"'{clean}'"


def parse(
    text: str, dimension: str, *, usual: str | None = None, example: str | None = None
) -> float:
    """Return the quantity a person wrote, in the unit used inside.

    Parameters
    ----------
    text : str
        What they wrote: '1.2 m', '5' 6"', '2 m 30', '26 deg', '5.6 klm', '1/48 s', '80 %'.
    dimension : str
        A key of `DIMENSIONS`.
    usual : str or None
        The unit to suggest where there is none; by default the dimension's own.
    example : str or None
        The value to suggest where it is no quantity at all; by default the dimension's own.

    Returns
    -------
    float
        Finite, in m, deg, lm, cd, lx, K, W, lm/W, s, stops, 1/m, mired, or a plain number.

    Raises
    ------
    UnitError
        The text is no such quantity; the error says what to write.
    """
    kind = DIMENSIONS[dimension]
    given = text
    text = " ".join(text.translate(_MARKS).split())
    if len(text) > LONGEST_QUANTITY:
        raise UnitError(f"{quote(given)} has {len(text)} letters", f"Write {kind.noun}, for example "
                        f"'{example or kind.example}'.")
    special = _SPECIAL.get(dimension)
    if special:
        value = special(text, given)
        if value is not None:
            return value
    match = None if _DECIMAL_COMMA.fullmatch(text) else _QUANTITY.fullmatch(text)
    if not match:
        raise _not_a_quantity(text, given, kind, example or kind.example)
    sign, digits, unit = match.groups()
    if dimension == "length":
        unit = {"'": "ft", '"': "in"}.get(unit, unit)
    if unit not in kind.units:
        number = f"{sign}{digits}"
        raise _wrong_unit(number, unit, given, kind, usual or kind.usual, example or kind.example)
    return _scaled(sign, digits, kind.units[unit], given)


def _scaled(sign, digits, factor, given):
    """Return digits times a decimal factor, rounded once: '35' mm is the double nearest 0.035."""
    if not math.isfinite(float(digits)):
        raise UnitError(f"{quote(given)} is too large a number", "Write a smaller one.")
    value = float(_exact(digits) * Decimal(factor))
    if not math.isfinite(value):
        raise UnitError(f"{quote(given)} is too large a number", "Write a smaller one.")
    return -value if sign == "-" and value else value


def _exact(digits: str) -> Decimal:
    """Return a number as it was written; 0 for less than any number that a machine holds."""
    return Decimal(digits) if float(digits) else Decimal(0)


def _not_a_quantity(text, given, kind, example):
    if not text:
        return UnitError("nothing is written", f"Write {kind.noun}, for example '{example}'.")
    if _DECIMAL_COMMA.fullmatch(text):
        point = text.replace(",", ".")
        return UnitError(f"{quote(given)} has a comma for a decimal point", f"Write '{point}'.")
    return UnitError(f"{quote(given)} is not {kind.noun}", f"Write for example '{example}'.")


def _wrong_unit(number, unit, given, kind, usual, example):
    if not unit:
        return UnitError(f"{quote(given)} has no unit", f"Write '{_joined(number, usual)}'.")
    if kind.units.keys() == {""}:
        if not unit.isalpha():
            return _not_a_quantity(given, given, kind, example)
        return UnitError(
            f"{quote(given)} is not {kind.noun}: it takes no unit", f"Write '{number}'."
        )
    meant = _SPELT.get(unit.lower())
    if meant not in kind.units:
        meant = next((each for each in kind.units if each.lower() == unit.lower()), None)
    advice = (
        f"Write '{_joined(number, meant)}'."
        if meant
        else f"Write it in {_any_of(each for each in kind.units if each not in ('', '°'))}, "
        f"for example '{example}'."
    )
    return UnitError(f"{quote(given)} is not {kind.noun}: {quote(unit)} is no unit of it", advice)


def _joined(number, unit):
    return f"{number} {unit}" if unit else number


def _any_of(words):
    words = list(words)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _compound_length(text, given):
    """Read feet and inches, or metres and centimetres; None for any other length."""
    match = _FEET_INCHES.fullmatch(text)
    if match:
        sign, feet, inches, mark = match.groups()
        if not mark:
            raise UnitError(
                f"{quote(given)} does not say that {quote(inches)} is inches",
                f"Write '{sign}{feet} ft {inches} in'.",
            )
        if float(inches) >= 12:
            raise UnitError(
                f"{quote(given)} has {inches} inches after the feet",
                "Write fewer than 12 inches after the feet, or only inches.",
            )
        # Added as inches, so that the sum is rounded once like any other length.
        _scaled("", feet, "12", given)
        value = _scaled("", str(_exact(feet) * 12 + _exact(inches)), "0.0254", given)
        return -value if sign == "-" else value
    match = _METRES_CENTIMETRES.fullmatch(text)
    if match:
        sign, metres, rest, mark = match.groups()
        # '2 m 5' is read as 2.05 by some and 2.5 by others, so two digits are needed.
        if not mark and not re.fullmatch(r"[0-9]{2}", rest):
            raise UnitError(
                f"{quote(given)} can be read in two ways",
                f"Write '{sign}{metres} m {rest} cm' or '{sign}{metres}.{rest} m'.",
            )
        if float(rest) >= 100:
            raise UnitError(
                f"{quote(given)} has {rest} cm after the metres",
                "Write fewer than 100 cm after the metres, or only centimetres.",
            )
        value = float(Decimal(metres) + _exact(rest) * Decimal("0.01"))
        if not math.isfinite(value):
            raise UnitError(f"{quote(given)} is too large a number", "Write a smaller one.")
        return -value if sign == "-" else value
    return None


def _part_of_a_second(text, given):
    match = _PART_OF_A_SECOND.fullmatch(text)
    if not match:
        return None
    above, below, unit = match.groups()
    if unit != "s":
        return _refuse(f"{quote(given)} is not a time in seconds", f"Write '{above}/{below} s'.")
    if not int(below):
        return _refuse(f"{quote(given)} divides by 0", "Write for example '1/48 s'.")
    return _quotient(above, below, given)


def _picture_ratio(text, given):
    match = _RATIO.fullmatch(text)
    if not match:
        return None
    width, height = match.groups()
    if not float(height):
        return _refuse(f"{quote(given)} divides by 0", "Write for example '16:9'.")
    return _quotient(width, height, given)


def _quotient(above, below, given):
    value = float(above) / float(below)
    if not math.isfinite(value):
        raise UnitError(f"{quote(given)} is too large a number", "Write a smaller one.")
    return value


def _t_stop(text, given):
    match = _LETTERED_STOP.fullmatch(text)
    if match:
        return _scaled("", match[1], "1", given)
    match = _FOCAL_RATIO.fullmatch(text)
    if match:
        return _refuse(
            f"{quote(given)} is an f-number, not a T-stop",
            f"Write the T-stop of the lens, for example 'T{match[1]}'.",
        )
    return None


def _refuse(message, advice):
    raise UnitError(message, advice)


_SPECIAL = {
    "length": _compound_length,
    "time": _part_of_a_second,
    "ratio": _picture_ratio,
    "t_stop": _t_stop,
}


def pattern(dimension: str) -> str:
    """Return a regular expression of what `parse` takes, for schemas.

    Parameters
    ----------
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    str
        Anchored at both ends; without lookaround or named groups, so that JSON Schema can use it.
    """
    units = [re.escape(unit) for unit in DIMENSIONS[dimension].units if unit]
    optional = "?" if DIMENSIONS[dimension].bare else ""
    unit = f"({'|'.join(units)}){optional}" if units else ""
    forms = [rf"[+-]?\s*{_NUMBER}\s*{unit}", *_EXTRA_FORMS.get(dimension, ())]
    return rf"^\s*({'|'.join(forms)})\s*$"


_EXTRA_FORMS = {
    "length": (
        rf"[+-]?\s*{_NUMBER}\s*['\"]",
        rf"[+-]?\s*{_NUMBER}\s*(ft|')\s*{_NUMBER}\s*(in|\")",
        rf"[+-]?\s*[0-9]+\s*m\s*([0-9]{{2}}|{_NUMBER}\s*cm)",
    ),
    "time": (r"[0-9]+\s*/\s*[0-9]+\s*s",),
    "ratio": (rf"{_NUMBER}\s*:\s*{_NUMBER}",),
    "t_stop": (rf"T\s*/?\s*{_NUMBER}",),
}


def show(value: float, dimension: str) -> str:
    """Return a quantity as a person would write it; `parse` reads it back.

    Parameters
    ----------
    value : float
        In the unit used inside.
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    str
        Four significant digits, or all the digits before the point where there are more. Lengths
        under 0.1 m are in mm, times of one over a whole number are written so, as in '1/48 s'.
    """
    unit = DIMENSIONS[dimension].usual
    if dimension == "length" and 0 < abs(value) < 0.1:
        return f"{_digits(value * 1000)} mm"
    if dimension == "fraction":
        return f"{_digits(value * 100)} %"
    if dimension == "t_stop":
        return f"T{_digits(value)}"
    if dimension == "time" and 0 < value < 1:
        parts = round(1 / value)
        if parts > 1 and abs(value * parts - 1) < 1e-6:
            return f"1/{parts} s"
    if dimension in ("stops", "mired"):
        digits = _digits(value)
        sign = "+" if value > 0 and digits != "0" else ""
        if dimension == "stops" and digits in ("1", "-1"):
            unit = "stop"
        return f"{sign}{digits} {unit}"
    return _joined(_digits(value), unit)


def _digits(value):
    text = f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"
    if "e" in text:
        text = f"{Decimal(text):f}"
    return "0" if text == "-0" else text
