"""Numbers and angles as they are written: decimal commas, thousands, units in cells, degrees and minutes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import vocabulary
from analyser.logs.track import FloatArray
from analyser.logs.units import is_unit

if TYPE_CHECKING:
    from pandas import Series

_NUMBER = r"[+\-−]?(?:\d[\d ,.']*\d|\d|[.,]\d+)(?:[eE][+-]?\d+)?"
_WITH_UNIT = re.compile(rf"^\s*({_NUMBER})\s*([^\d\s][^\d]*)?\s*$")
_LEVEL = re.compile(r"^\s*(?:[Ff][Ll]\s*|F(?=\d{3}\s*$))(\d+)\s*$")
#: An altitude in hundreds of feet, as flight plans write it beside levels such as F150 (ICAO Doc 4444, appendix 2).
_HUNDREDS = re.compile(r"^\s*A(\d{3})\s*$")
#: Accounts write the sign behind the number, or the number in brackets.
_SIGN_BEHIND = re.compile(r"^\s*(?:(\d[\d.,]*) ?[-−]|\(\s*(\d[\d.,]*)\s*\))\s*$")
_DECIMAL_COMMA = re.compile(r"^[+\-−]?\d*,\d+$")
_THOUSANDS = re.compile(r"^[+\-−]?\d{1,3}(?:[,' ]\d{3})+(?:\.\d+)?$")
#: Where the comma is decimal, a point parts thousands.
_THOUSANDS_POINT = r"[+\-−]?\d{1,3}(?:\.\d{3})+"
#: Numbers with both marks, which tell by themselves which of them is decimal.
_BOTH_MARKS = {
    ",": re.compile(r"[+\-−]?\d{1,3}(?:\.\d{3})+,\d+"),
    ".": re.compile(r"[+\-−]?\d{1,3}(?:,\d{3})+\.\d+"),
}
#: What cells say beside positions without signs, lower-case: the positive side first.
SIDES = vocabulary().sides
_WORDS = {word for both in SIDES.values() for words in both for word in words if word.isalpha()}
_SIDE = "|".join(sorted(_WORDS | {"o"}, key=len, reverse=True))
_SOUTH_OR_WEST = {word for _, words in SIDES.values() for word in words}
#: Signs of a degree, also as they come out of a wrong character set.
_DEGREE = r"(?:deg(?:rees)?|&deg;|Â?[°º]|[˚*\ufffd])"
_ANGLE = re.compile(
    rf"""^(?P<before>{_SIDE})?\s*(?P<sign>[+\-−])?\s*(?P<deg>\d+(?:[.,]\d+)?)
        (?:\s*(?:{_DEGREE}|[d:\s]|-(?=\s*\d))\s*
        (?:(?P<min>\d{{1,2}}(?:[.,]\d+)?)\s*(?:min(?:utes)?|['′m:\s\-]|$)?\s*
        (?:(?P<sec>\d{{1,2}}(?:[.,]\d+)?)\s*(?:sec(?:onds)?|["″]|(?-i:s)|\'\'|′′)?)?)?)?
        \s*(?P<after>{_SIDE})?$""",
    re.VERBOSE | re.IGNORECASE,
)
#: Degrees, minutes and seconds run together, which aeronautical publications write with the side: 483015.2N.
_RUN_TOGETHER = re.compile(
    r"^\s*([NSEWO])?\s*(\d{2,3})(\d{2})(\d{2}(?:\.\d+)?)\s*([NSEWO])?\s*$", re.IGNORECASE
)


def numbers(column: Series[float] | Series[str], decimal: str = ".") -> tuple[FloatArray, dict[int, str]]:
    """Read a column of numbers, or of text that holds them; with a decimal comma ``4.000`` is four thousand.

    Gives (n,) floats, NaN where missing or unreadable, and the units that are written in cells, by their rows.
    """
    if column.dtype.kind in "fiu":
        return np.asarray(column, dtype=float), {}
    values, text = plain_numbers(column)
    decimal = next((mark for mark, form in _BOTH_MARKS.items() if text.str.match(form).any()), decimal)
    if decimal == ",":
        # What looks like a plain number may have a point that parts its thousands.
        text = column.dropna().astype(str)
    units, values[text.index] = _written(text.to_list(), decimal)
    return values, {row: unit for row, unit in zip(text.index, units, strict=True) if unit}


def plain_numbers(column: Series[float] | Series[str]) -> tuple[FloatArray, Series[str]]:
    """Read what is plainly a number, as (n,) floats; give what is filled with something else, as text."""
    import pandas as pd

    try:
        read = pd.to_numeric(column, errors="coerce").astype(float)
    except OverflowError:
        # It has more digits than a machine number holds.
        short = column.where(column.astype(str).str.len() < LOOK.most_digits)
        read = pd.to_numeric(short, errors="coerce").astype(float)
    return np.array(read, dtype=float), column[read.isna() & column.notna()].astype(str)


def _written(texts: list[str], decimal: str) -> tuple[list[str], list[float]]:
    """Read numbers with what is written round them: their units, empty for none, and their values."""
    # The sign of "33.9-" and "(33.9)" stands before the number in the end, the unit of FL150 and A045 behind it.
    usual = [_HUNDREDS.sub(r"\g<1>00 ft", _LEVEL.sub(r"\1 FL", text[:60])) for text in texts]
    matches = [_WITH_UNIT.match(_SIGN_BEHIND.sub(r"-\1\2", text)) for text in usual]
    parts = [(match[1], (match[2] or "").strip()) if match else ("", "") for match in matches]
    # A row that is cut off inside 3,000 leaves 3,0: that tells nothing of the others.
    marked = [numeral for numeral, _ in parts if "," in numeral]
    odd = sum(_DECIMAL_COMMA.match(n) is not None and not _THOUSANDS.match(n) for n in marked)
    comma = decimal == "," or odd > LOOK.cut_off_share * len(marked)
    # A cell with a suffix that is no unit is not a number.
    read = [_number(numeral, comma) if not unit or is_unit(unit) else float("nan") for numeral, unit in parts]
    return [unit if is_unit(unit) else "" for _, unit in parts], read


def _number(numeral: str, decimal_comma: bool) -> float:
    text = numeral.replace("−", "-").replace(" ", "").replace("'", "")
    if decimal_comma and ("," in text or re.fullmatch(_THOUSANDS_POINT, text)):
        text = text.replace(".", "").replace(",", ".")
    else:
        text = text.replace(",", "")
    try:
        return float(text)
    except ValueError:
        return float("nan")


def angles(column: Series[float] | Series[str]) -> FloatArray:
    """Read a column of latitudes or longitudes, in decimal degrees or in degrees, minutes and seconds.

    Degrees, north and east positive; NaN where missing or unreadable.
    """
    if column.dtype.kind in "fiu":
        return np.asarray(column, dtype=float)
    values, text = plain_numbers(column)
    values[text.index] = [angle(item[:60]) for item in text]
    return values


def angle(text: str) -> float:
    """Read a latitude or longitude: ``48.5``, ``48,5 N``, ``N48 30.0``, ``48°30'00"N``, ``-11:34:12``.

    Degrees, north and east positive; NaN where unreadable.
    """
    # Long runs of blanks would take the patterns long.
    text = " ".join(text.split())
    # Behind whole degrees it may be all that is left of a sign before minutes.
    text = _SIGN_BEHIND.sub(r"-\1\2", text) if "." in text or "," in text else text
    packed = _RUN_TOGETHER.match(text)
    if packed and (packed[1] or packed[5]):
        text = f"{packed[1] or ''}{packed[2]} {packed[3]} {packed[4]}{packed[5] or ''}"
    match = _ANGLE.match(text)
    if match is None:
        return float("nan")
    parts = [float((match.group(part) or "0").replace(",", ".")) for part in ("deg", "min", "sec")]
    broken = any(match.group(finer) and parts[place] % 1.0 for place, finer in enumerate(("min", "sec")))
    # Degrees of four digits before minutes are a date's year.
    broken = broken or (match["min"] is not None and parts[0] >= 1000.0)
    # Recorders that cut and round write 60.0000 seconds: only more is a fault.
    if broken or parts[1] > 60.0 or parts[2] > 60.0:
        return float("nan")
    value = parts[0] + parts[1] / 60.0 + parts[2] / 3600.0
    side = (match.group("before") or match.group("after") or "").lower()
    return -value if side in _SOUTH_OR_WEST or match.group("sign") in ("-", "−") else value
