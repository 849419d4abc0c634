"""IGC flight recorder files: B records with their I-record extensions.

References
----------
FAI Sporting Code, Annex to Section 3, "Technical Specification for IGC-approved GNSS Flight Recorders",
Appendix 1: A record first; H record ``HFDTE`` with the UTC date (DDMMYY, with ``DATE:`` and a flight number in
the later form); B record HHMMSS, latitude DDMMmmm, longitude DDDMMmmm, validity A (3D) or V, pressure altitude
(to the ICAO standard, 1013.25 hPa) and GNSS altitude in metres; I record with start, end and three-letter code
of each extension. Units of the extensions (speeds in km/h, directions in degrees) from memory of its code table.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np

from analyser.errors import LogError
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.text import decode, left_out, refuse_long_lines
from analyser.logs.times import unroll_days
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE, KNOTS_PER_KILOMETRE_PER_HOUR

_FIX = re.compile(
    r"^B(\d{2})(\d{2})(\d{2})(\d{2})(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])(-\d{4}|\d{5})(-\d{4}|\d{5})"
)
_DATE = re.compile(r"^HFDTE(?:DATE:?)?\s*(\d{2})(\d{2})(\d{2})")
_LOOKS = re.compile(r"^(?:B\d{13}[NS]\d{8}[EW][AV]|HFDTE)", re.MULTILINE)
#: Extension code to channel and factor. VAT (variometer) is compensated for energy and is no climb rate.
_EXTENSIONS = {
    "TRT": ("track_true_deg", "deg", 1.0),
    "GSP": ("ground_speed_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
    "HDT": ("heading_true_deg", "deg", 1.0),
    "HDM": ("heading_magnetic_deg", "deg", 1.0),
    "IAS": ("ias_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
    "TAS": ("tas_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
    "OAT": ("outside_air_temperature_c", "°C", 1.0),
    "WDI": ("wind_from_true_deg", "deg", 1.0),
    "WVE": ("wind_speed_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
}


def looks_like(head: str) -> bool:
    """Tell IGC by a B record or the date record.

    Parameters
    ----------
    head : str

    Returns
    -------
    bool
    """
    return _LOOKS.search(head) is not None


@dataclass
class _Records:
    """Columns of the B records."""

    clock_s: list[float] = field(default_factory=list)
    lat: list[float] = field(default_factory=list)
    lon: list[float] = field(default_factory=list)
    pressure_m: list[float] = field(default_factory=list)
    gnss_m: list[float] = field(default_factory=list)
    extensions: dict[str, list[float]] = field(default_factory=dict)
    damaged: int = 0


def read(content: Content) -> list[RawFlight]:
    """Read an IGC file.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight
        One, or more where files were joined on to one another.

    Raises
    ------
    LogError
        Where there is no readable B record.
    """
    refuse_long_lines(content.data, content.name)
    flights: list[RawFlight] = []
    for lines in _parts(decode(content.data).splitlines()):
        flight = _flight(lines)
        if flight is not None:
            flights.append(flight)
    if not flights:
        raise LogError(
            "no B record (fix) can be read", file=content.name, place="record B", mend="is the file complete?"
        )
    return flights


def _parts(lines: list[str]) -> list[list[str]]:
    """Cut a file where a new one was joined on: an A or date record after fixes.

    A recorder that only repeats the date at midnight is cut too; what follows on is joined again later.
    """
    parts: list[list[str]] = [[]]
    fixes = False
    for line in lines:
        if fixes and (line.startswith("A") or _date(line) is not None):
            kept = [] if line.startswith("A") else [old for old in parts[-1] if old.startswith("I")][:1]
            parts.append(kept)
            fixes = False
        fixes = fixes or line.startswith("B")
        parts[-1].append(line)
    return parts


def _flight(lines: list[str]) -> RawFlight | None:
    fields = _declared(lines)
    day_s = next((day for line in lines if (day := _date(line)) is not None), None)
    records = _records(lines, fields)
    if not records.clock_s:
        return None
    time_s, _ = unroll_days(np.array(records.clock_s))
    channels, notices, sources = _channels(records)
    if records.damaged:
        notices.append(
            Notice(
                "record-damaged",
                left_out(records.damaged, "B record is damaged", "B records are damaged"),
            )
        )
    return RawFlight(
        time_s + (day_s or 0.0),
        np.array(records.lat),
        np.array(records.lon),
        day_s is not None,
        channels,
        notices=tuple(notices),
        sources=tuple(sources),
    )


def _date(line: str) -> float | None:
    match = _DATE.match(line)
    if match is None:
        return None
    day, month, year = (int(part) for part in match.groups())
    try:
        return datetime(2000 + year if year < 80 else 1900 + year, month, day, tzinfo=UTC).timestamp()
    except ValueError:
        return None


def _declared(lines: list[str]) -> dict[str, tuple[int, int]]:
    """Return the columns of each extension, from the I record: code to (first, last), counted from 1."""
    declared: dict[str, tuple[int, int]] = {}
    for line in lines:
        if line.startswith("I") and line[1:3].isdigit():
            for first, last, code in re.findall(r"(\d{2})(\d{2})([A-Z]{3})", line[3:]):
                if 35 < int(first) <= int(last):
                    declared[code] = (int(first), int(last))
            break
    return declared


def _records(lines: list[str], fields: dict[str, tuple[int, int]]) -> _Records:
    records = _Records(extensions={code: [] for code in _EXTENSIONS if code in fields})
    for line in lines:
        if not line.startswith("B"):
            continue
        fix = _FIX.match(line)
        if fix is None or int(fix[1]) > 23 or int(fix[2]) > 59 or int(fix[3]) > 59:
            records.damaged += 1
            continue
        more = {code: line[first - 1 : last] for code, (first, last) in fields.items()}
        records.clock_s.append(
            int(fix[1]) * 3600.0 + int(fix[2]) * 60.0 + int(fix[3]) + _fraction(more.get("TDS", ""))
        )
        records.lat.append(_degrees(fix[4], fix[5], more.get("LAD", ""), fix[6] == "S"))
        records.lon.append(_degrees(fix[7], fix[8], more.get("LOD", ""), fix[9] == "W"))
        records.pressure_m.append(float(fix[11]))
        # V: the receiver had no height of its own.
        records.gnss_m.append(float(fix[12]) if fix[10] == "A" else float("nan"))
        for code, values in records.extensions.items():
            values.append(_number(more[code]))
    return records


def _degrees(degrees: str, thousandths: str, digits: str, negative: bool) -> float:
    """Put degrees and thousandths of a minute together, with the further digits of LAD and LOD."""
    minutes = (int(thousandths) + _fraction(digits)) / 1000.0
    value = int(degrees) + minutes / 60.0
    return float("nan") if minutes >= 60.0 else -value if negative else value


def _fraction(digits: str) -> float:
    return int(digits) / 10 ** len(digits) if digits.isascii() and digits.isdigit() else 0.0


def _number(text: str) -> float:
    try:
        return float(text) if "_" not in text else float("nan")
    except ValueError:
        return float("nan")


def _channels(records: _Records) -> tuple[dict[str, FloatArray], list[Notice], list[Source]]:
    channels: dict[str, FloatArray] = {}
    sources = [
        Source("B record", "time", "UTC", "recognised"),
        Source("B record", "position", "deg", "recognised"),
    ]
    notices: list[Notice] = []
    pressure, gnss = np.array(records.pressure_m), np.array(records.gnss_m)
    if np.any(pressure != 0.0):
        channels["altitude_ft"] = pressure * FEET_PER_METRE
        sources.append(Source("pressure altitude", "altitude_ft", "m", "recognised"))
        sources.append(
            Source("GNSS altitude", "", "m", "ignored", "the pressure altitude is what a pilot flies")
        )
        said = "pressure altitude on 1013.25 hPa: below the transition level it differs from the indicated altitude"
        notices.append(Notice("altitude-datum", f"The altitude is {said}."))
    elif np.any(np.nan_to_num(gnss) != 0.0):
        channels["altitude_ft"] = gnss * FEET_PER_METRE
        sources.append(Source("GNSS altitude", "altitude_ft", "m", "recognised"))
        said = "a receiver's height above the ellipsoid, not an altimeter's: it differs from the indicated altitude"
        notices.append(Notice("altitude-datum", f"The altitude is {said}."))
    for code, values in records.extensions.items():
        channel, unit, factor = _EXTENSIONS[code]
        channels[channel] = np.array(values) * factor
        sources.append(Source(code, channel, unit, "recognised"))
    return channels, notices, sources
