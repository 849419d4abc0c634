"""NMEA 0183 sentences, one by one: found among other bytes, checked, and what the fields of each kind say.

References
----------
NMEA 0183: ``$`` talker and sentence name, comma-separated fields, ``*`` and the exclusive-or of everything
between as two hexadecimal digits. RMC carries time, status, position, speed (kt), track (true) and the date; GGA
time, position, fix quality and antenna altitude (m above mean sea level), GNS the same with a mode for each
constellation; HDG a magnetic sensor's heading with
deviation and variation. Field orders agree with the reference library used in the tests.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from typing import Literal

from analyser.frozen import dataclass
from analyser.logs.times import midnight_s
from analyser.logs.units import FEET_PER_METRE, KNOTS_PER_KILOMETRE_PER_HOUR

#: A sentence that is read: its body, its checksum, and whether a line ends after it.
_SENTENCE = re.compile(
    rb"\$([A-OQ-Z][A-Z](?:RMC|GGA|GNS|GLL|VTG|HDT|HDG|HDM|ZDA),[ -#%-)+-~]{0,160})(\*[^\r\n$]{0,2})?(?=([\r\n]|$)?)"
)
_NAN = float("nan")

Standing = Literal["checked", "unchecked", "damaged"]


def sentences(data: bytes) -> Iterator[tuple[Standing, list[str]]]:
    """Go through the sentences in a stream of bytes.

    Yields
    ------
    standing : str
        ``"damaged"`` also for a sentence without a checksum that another one cuts off.
    fields : list of str
        The first is talker and kind.
    """
    for match in _SENTENCE.finditer(data):
        body, check, ended = match.groups()
        standing: Standing
        if check is not None:
            sound = len(check) == 3 and _hexadecimal(check[1:]) == _checksum(body)
            standing = "checked" if sound else "damaged"
        else:
            standing = "unchecked" if ended is not None else "damaged"
        yield standing, body.decode("ascii").split(",")


def _checksum(body: bytes) -> int:
    """Return the exclusive-or of all bytes: of halves of halves, which is five times as fast as of one by one."""
    total = int.from_bytes(body, "big")
    for bits in (1024, 512, 256, 128, 64, 32, 16, 8):
        total = (total >> bits) ^ (total & ((1 << bits) - 1))
    return total


def _hexadecimal(digits: bytes) -> int:
    try:
        return int(digits, 16)
    except ValueError:
        return -1


def _only_metres(fields: list[str]) -> None:
    if fields[9] not in ("M", ""):
        fields[8] = ""


def _with_deviation(fields: list[str]) -> None:
    """Add the deviation to a magnetic sensor's heading: east is positive."""
    deviation = number(fields[1])
    if not math.isnan(deviation):
        fields[0] = str(number(fields[0]) + (-deviation if fields[2] == "W" else deviation))


def position(fields: list[str]) -> tuple[float, float]:
    """Read latitude, its side, longitude, its side: degrees; NaN where either is missing or none."""
    if fields[1] not in ("N", "S") or fields[3] not in ("E", "W"):
        return _NAN, _NAN
    return _angle(fields[0], fields[1] == "S"), _angle(fields[2], fields[3] == "W")


def _angle(text: str, negative: bool) -> float:
    """Read ``DDDMM.mmmm``."""
    match = re.fullmatch(r"(\d{1,3})(\d{2}(?:\.\d*)?)", text)
    if match is None or float(match[2]) >= 60.0:
        return _NAN
    value = int(match[1]) + float(match[2]) / 60.0
    return -value if negative else value


def time_of_day(text: str) -> float:
    """Read ``hhmmss.ss`` as seconds; NaN where it is none."""
    match = re.fullmatch(r"(\d{2})(\d{2})(\d{2}(?:\.\d*)?)", text)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59 or float(match[3]) >= 61.0:
        return _NAN
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0 + float(match[3])


def _date(text: str) -> float:
    """Read ``ddmmyy``."""
    return _midnight(text[4:], text[2:4], text[:2]) if len(text) == 6 else _NAN


def _midnight(year: str, month: str, day: str) -> float:
    try:
        return midnight_s(int(year), int(month), int(day))
    except ValueError:
        return _NAN


def number(text: str) -> float:
    """Read a decimal number; NaN where it is none."""
    try:
        return float(text) if text and "_" not in text else _NAN
    except ValueError:
        return _NAN


@dataclass(frozen=True)
class Kind:
    """What a kind of sentence says, by the places of its fields after the name.

    Attributes
    ----------
    clock : int or None
        Time of day; without one the sentence belongs to the instant before it.
    place : int or None
        Latitude, its side, longitude, its side.
    fixed : callable
        Whether the sentence says that it holds good.
    day : callable
        POSIX seconds of the date's midnight, NaN where it gives none.
    values : tuple of (int, str, float)
        Field, channel, and factor into the program's unit.
    adjust : callable
        Brings the fields into order before the values are read.
    """

    clock: int | None = None
    place: int | None = None
    fixed: Callable[[list[str]], bool] = lambda fields: True
    day: Callable[[list[str]], float] = lambda fields: _NAN
    values: tuple[tuple[int, str, float], ...] = ()
    adjust: Callable[[list[str]], None] = lambda fields: None


KINDS = {
    "RMC": Kind(
        clock=0,
        place=2,
        fixed=lambda fields: fields[1] == "A" and fields[11] != "N",
        day=lambda fields: _date(fields[8]),
        values=((6, "ground_speed_kt", 1.0), (7, "track_true_deg", 1.0)),
    ),
    "GGA": Kind(
        clock=0,
        place=1,
        fixed=lambda fields: fields[5] not in ("", "0"),
        values=((8, "altitude_ft", FEET_PER_METRE),),
        adjust=_only_metres,
    ),
    "GNS": Kind(
        clock=0,
        place=1,
        # One letter for each constellation; N is none.
        fixed=lambda fields: bool(fields[5].strip("N")),
        values=((8, "altitude_ft", FEET_PER_METRE),),
    ),
    "GLL": Kind(clock=4, place=0, fixed=lambda fields: fields[5] != "V"),
    "VTG": Kind(
        fixed=lambda fields: fields[1] == "T",
        values=(
            (0, "track_true_deg", 1.0),
            (4, "ground_speed_kt", 1.0),
            (6, "ground_speed_kt", KNOTS_PER_KILOMETRE_PER_HOUR),
        ),
    ),
    "HDT": Kind(values=((0, "heading_true_deg", 1.0),)),
    "HDG": Kind(values=((0, "heading_magnetic_deg", 1.0),), adjust=_with_deviation),
    "HDM": Kind(values=((0, "heading_magnetic_deg", 1.0),)),
    "ZDA": Kind(clock=0, day=lambda fields: _midnight(fields[3], fields[2], fields[1])),
}
