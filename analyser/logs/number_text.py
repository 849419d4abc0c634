"""Numbers and angles as they are written: decimal commas, thousands, units in cells, degrees and minutes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analyser.logs.meaning import vocabulary
from analyser.logs.units import is_unit

if TYPE_CHECKING:
    from pandas import Series

FloatArray = NDArray[np.float64]

_NUMBER = r"[+\-−]?(?:\d[\d ,.']*\d|\d|[.,]\d+)(?:[eE][+-]?\d+)?"
_WITH_UNIT = re.compile(rf"^\s*({_NUMBER})\s*([^\d\s][^\d]*)?\s*$")
#: Numbers of more digits are none.
_MOST_DIGITS = 300
_LEVEL = re.compile(r"^\s*(?:[Ff][Ll]\s*|F(?=\d{3}\s*$))(\d+)\s*$")
#: An altitude in hundreds of feet, as flight plans write it beside levels such as F150 (ICAO Doc 4444, appendix 2).
_HUNDREDS = re.compile(r"^\s*A(\d{3})\s*$")
#: Accounts write the sign behind the number, or the number in brackets.
_SIGN_BEHIND = re.compile(r"^\s*(?:(\d[\d.,]*) ?[-−]|\(\s*(\d[\d.,]*)\s*\))\s*$")
_DECIMAL_COMMA = re.compile(r"^[+\-−]?\d*,\d+$")
_THOUSANDS = re.compile(r"^[+\-−]?\d{1,3}(?:[,' ]\d{3})+(?:\.\d+)?$")
#: So small a share of a column's cells may be cut off.
_CUT_OFF = 0.01
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
    rf"""^\s*(?P<before>{_SIDE})?\s*(?P<sign>[+\-−])?\s*(?P<deg>\d{{1,3}}(?:[.,]\d+)?)\s*(?:{_DEGREE}|[d:\s]|-(?=\s*\d))\s*
        (?:(?P<min>\d{{1,2}}(?:[.,]\d+)?)\s*(?:min(?:utes)?|['′m:\s\-]|$)?\s*
        (?:(?P<sec>\d{{1,2}}(?:[.,]\d+)?)\s*(?:sec(?:onds)?|["″]|(?-i:s)|\'\'|′′)?)?)?
        \s*(?P<after>{_SIDE})?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
#: Degrees, minutes and seconds run together, which aeronautical publications write with the side: 483015.2N.
_RUN_TOGETHER = re.compile(
    r"^\s*([NSEWO])?\s*(\d{2,3})(\d{2})(\d{2}(?:\.\d+)?)\s*([NSEWO])?\s*$", re.IGNORECASE
)
_SIGNED_DEGREES = re.compile(
    rf"^\s*({_SIDE})?\s*([+-]?\d+(?:[.,]\d+)?)\s*{_DEGREE}?\s*({_SIDE})?\s*$", re.IGNORECASE
)


def numbers(column: Series[float] | Series[str], decimal: str = ".") -> tuple[FloatArray, list[str]]:
    """Read a column of numbers, or of text that holds them; with a decimal comma ``4.000`` is four thousand.

    Gives (n,) floats, NaN where missing or unreadable, and the unit written in each cell, empty where it has none: an
    empty list where no cell has one.
    """
    if column.dtype.kind in "fiu":
        return np.array(column, dtype=float), []
    direct = _coerced(column)
    odd = column[direct.isna()].astype(str)
    decimal = next((mark for mark, form in _BOTH_MARKS.items() if odd.str.match(form).any()), decimal)
    if decimal == ",":
        direct = direct.mask(column.astype(str).str.fullmatch(_THOUSANDS_POINT))
    text = column[direct.isna() & column.notna()].astype(str)
    values = np.array(direct, dtype=float)
    if text.empty:
        return values, []
    places, (units, read) = np.array(text.index), _written(text.to_list(), decimal)
    values[places] = read
    if not any(units):
        return values, []
    beside = [""] * len(column)
    for place, unit in zip(places.tolist(), units, strict=True):
        beside[place] = unit
    return values, beside


def _coerced(column: Series[float] | Series[str]) -> Series[float]:
    """Read what is plainly a number; the rest is missing, also what has more digits than a machine number holds."""
    import pandas as pd

    try:
        return pd.to_numeric(column, errors="coerce").astype(float)
    except OverflowError:
        short = column.where(column.astype(str).str.len() < _MOST_DIGITS)
        return pd.to_numeric(short, errors="coerce").astype(float)


def _written(texts: list[str], decimal: str) -> tuple[list[str], list[float]]:
    matches = [_WITH_UNIT.match(_in_usual_order(text[:60])) for text in texts]
    numerals = [match.group(1) if match else "" for match in matches]
    # A row that is cut off inside 3,000 leaves 3,0: that tells nothing of the others.
    odd = sum(_DECIMAL_COMMA.match(n) is not None and not _THOUSANDS.match(n) for n in numerals)
    comma = decimal == "," or odd > _CUT_OFF * sum("," in n for n in numerals)
    suffixes = [(match.group(2) or "").strip() if match else "" for match in matches]
    # A cell with a suffix that is no unit is not a number.
    read = [
        _number(numeral, comma) if not suffix or is_unit(suffix) else float("nan")
        for numeral, suffix in zip(numerals, suffixes, strict=True)
    ]
    return [suffix if is_unit(suffix) else "" for suffix in suffixes], read


def _in_usual_order(text: str) -> str:
    """Put the sign of ``33.9-`` and ``(33.9)`` before the number, the unit of FL150 and A045 behind it."""
    return _SIGN_BEHIND.sub(r"-\1\2", _HUNDREDS.sub(r"\g<1>00 ft", _LEVEL.sub(r"\1 FL", text)))


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
        return np.array(column, dtype=float)
    direct = _coerced(column)
    values = np.array(direct, dtype=float)
    text = column[direct.isna() & column.notna()].astype(str)
    values[np.array(text.index, dtype=int)] = [angle(item[:60]) for item in text]
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
    plain = _SIGNED_DEGREES.match(text)
    if plain:
        value = float(plain.group(2).replace(",", "."))
        side = (plain.group(1) or plain.group(3) or "").lower()
        return -value if side in _SOUTH_OR_WEST and value > 0 else value
    match = _ANGLE.match(text)
    if match is None:
        return float("nan")
    parts = [float((match.group(part) or "0").replace(",", ".")) for part in ("deg", "min", "sec")]
    broken = any(match.group(finer) and parts[place] % 1.0 for place, finer in enumerate(("min", "sec")))
    # Recorders that cut and round write 60.0000 seconds: only more is a fault.
    if broken or parts[1] > 60.0 or parts[2] > 60.0:
        return float("nan")
    value = parts[0] + parts[1] / 60.0 + parts[2] / 3600.0
    side = (match.group("before") or match.group("after") or "").lower()
    return -value if side in _SOUTH_OR_WEST or match.group("sign") in ("-", "−") else value
