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

import math
import re
from typing import Any

import numpy as np

from analyser.logs.limits import MAX_PIECES
from analyser.logs.log_thresholds import LOOK
from analyser.logs.raw import Content, RawFlight
from analyser.logs.samples import Field, Samples, flight_of, height
from analyser.logs.text import left_out, refuse_long_lines, sound_utf8
from analyser.logs.times import midnight_s, unroll_days
from analyser.logs.track import PRESSURE_DATUM, Notice, Source
from analyser.logs.units import FEET_PER_METRE, KNOTS_PER_KILOMETRE_PER_HOUR

_FIX = re.compile(
    r"^B(\d{2})(\d{2})(\d{2})(\d{2})(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])(-\d{4}|\d{5})(-\d{4}|\d{5})"
)
_DATE = re.compile(r"^H[FOP]DTE\s*(?:DATE:?)?\s*(\d{2})/?(\d{2})/?(\d{2})", re.IGNORECASE)
_LINE = re.compile(rb"[^\r\n]+")
_NAN = float("nan")
#: Each begins with letters to look for: together they take ten times as long.
_LOOKS = (re.compile(r"B\d{13}[NS]\d{8}[EW][AV]"), re.compile("HFDTE"))
_PRESSURE, _GNSS = "pressure altitude", "GNSS altitude"
#: The two altitudes, and extensions by their codes. VAT (variometer) is compensated for energy and is no climb rate.
_FIELDS = (
    Field(_PRESSURE, "altitude_ft", "m", FEET_PER_METRE, f"The altitude is {PRESSURE_DATUM}."),
    height(
        _GNSS,
        "The altitude is a receiver's height above the ellipsoid",
        beside="the pressure altitude is what a pilot flies",
    ),
    Field("TRT", "track_true_deg", "deg"),
    Field("GSP", "ground_speed_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
    Field("HDT", "heading_true_deg", "deg"),
    Field("HDM", "heading_magnetic_deg", "deg"),
    Field("IAS", "ias_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
    Field("TAS", "tas_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
    Field("OAT", "outside_air_temperature_c", "°C"),
    Field("WDI", "wind_from_true_deg", "deg"),
    Field("WVE", "wind_speed_kt", "km/h", KNOTS_PER_KILOMETRE_PER_HOUR),
)
_CODES = [field.name for field in _FIELDS[2:]]
_POINT = (
    Source("B record", "time", "UTC", "recognised"),
    Source("B record", "position", "deg", "recognised"),
)


def looks_like(head: str) -> bool:
    """Tell IGC by a B record or the date record."""
    starts = (found.start() for record in _LOOKS for found in record.finditer(head))
    return any(start == 0 or head[start - 1] in "\r\n" for start in starts)


class _Flight:
    """The records of one recording."""

    def __init__(self, declared: dict[str, tuple[int, int]]) -> None:
        self.declared = declared
        #: Midnight of its day by the record of the date.
        self.day_s = _NAN
        self.samples = Samples()
        self.damaged = 0

    def declare(self, line: str) -> None:
        """Take the columns of each extension from an I record: code to (first, last), counted from 1."""
        if not self.declared and line[1:3].isdigit():
            for first, last, code in re.findall(r"(\d{2})(\d{2})([A-Z]{3})", line[3:]):
                if 35 < int(first) <= int(last):
                    self.declared[code] = (int(first), int(last))

    def take(self, line: str) -> None:
        """Take a B record."""
        fix = _FIX.match(line)
        if fix is None or int(fix[1]) > LOOK.last_hour or int(fix[2]) > 59 or int(fix[3]) > 59:
            self.damaged += 1
            return
        more = {code: line[first - 1 : last] for code, (first, last) in self.declared.items()}
        sample: dict[str, Any] = {code: more[code].replace("_", "?") for code in _CODES if code in more}
        seconds = int(fix[3]) + _fraction(more.get("TDS", ""))
        sample["clock"] = int(fix[1]) * 3600.0 + int(fix[2]) * 60.0 + seconds
        sample["lat"] = _degrees(fix[4], fix[5], more.get("LAD", ""), fix[6] == "S")
        sample["lon"] = _degrees(fix[7], fix[8], more.get("LOD", ""), fix[9] == "W")
        sample[_PRESSURE] = float(fix[11])
        # V: the receiver had no height of its own.
        sample[_GNSS] = float(fix[12]) if fix[10] == "A" else _NAN
        self.samples.add(sample)

    def raw(self, content: Content) -> RawFlight:
        """Return the flight as the file says it."""
        columns = self.samples.columns()
        dated = not math.isnan(self.day_s)
        columns["time"] = unroll_days(columns["clock"]) + (self.day_s if dated else 0.0)
        for name in (_PRESSURE, _GNSS):
            # Recorders write zeros for an altitude that they do not measure.
            if not np.nan_to_num(columns[name]).any():
                del columns[name]
        message = left_out(self.damaged, "B record is damaged", "B records are damaged")
        notices = (Notice("record-damaged", message),) if self.damaged else ()
        return flight_of(columns, _FIELDS, content, _POINT, notices, dated=dated)


def read(content: Content) -> list[RawFlight]:
    """Read an IGC file: one flight, or more where files were joined on to one another; LogError without a B record."""
    data = sound_utf8(content.data)
    refuse_long_lines(data, content.name)
    flights = [_Flight({})]
    for line in (found.group().decode(errors="replace").lstrip() for found in _LINE.finditer(data)):
        kind = line[:1].upper()
        date = _DATE.match(line) if kind == "H" else None
        day_s = midnight_s(int(date[3]), int(date[2]), int(date[1])) if date is not None else _NAN
        # A recorder that only repeats the date at midnight is cut too; what follows on is joined again later.
        new, last = kind == "A" or not math.isnan(day_s + flights[-1].day_s), flights[-1]
        if new and (len(last.samples) or last.damaged) and len(flights) <= MAX_PIECES:
            last = _Flight({} if kind == "A" else last.declared)
            flights.append(last)
        if kind == "B":
            last.take(line)
        elif kind == "I":
            last.declare(line)
        elif math.isnan(last.day_s):
            last.day_s = day_s
    found = [flight.raw(content) for flight in flights if len(flight.samples)]
    if not found:
        raise content.refusal("no B record (fix) can be read", "record B", "is the file complete?")
    return found


def _degrees(degrees: str, thousandths: str, digits: str, negative: bool) -> float:
    """Put degrees and thousandths of a minute together, with the further digits of LAD and LOD."""
    minutes = (int(thousandths) + _fraction(digits)) / 1000.0
    value = int(degrees) + minutes / 60.0
    # Recorders that round write 60.000 minutes: only more is a fault.
    return _NAN if minutes > 60.0 else -value if negative else value


def _fraction(digits: str) -> float:
    return int(digits) / 10 ** len(digits) if digits.isascii() and digits.isdigit() else 0.0
