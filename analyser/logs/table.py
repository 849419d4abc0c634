"""Plain tables: any separator, any order of columns, recognised by what their headers mean.

Adapted to what recorders do: preambles, comment lines, a units row, blank columns, repeated columns, decimal
commas, several aircraft told apart by a column. A unit that neither header, units row, cells nor the person
give is not guessed here: the column goes on as :class:`~analyser.logs.raw.Undecided`.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from analyser.errors import LogError
from analyser.logs.limits import MAX_FLIGHTS, MAX_SAMPLES
from analyser.logs.meaning import Meaning, concept_named
from analyser.logs.raw import Content, FloatArray, RawFlight, Undecided
from analyser.logs.table_cells import MISSING, angles, numbers
from analyser.logs.table_layout import HEAD_LINES, Layout, find_layout, meanings
from analyser.logs.table_time import Clock, date_column, number_clock, offset_seconds, text_clock
from analyser.logs.text import encoding_of, refuse_long_lines, shown
from analyser.logs.times import DAY_S, unroll_days
from analyser.logs.track import Notice, Source
from analyser.logs.units import Unit, unit_of

if TYPE_CHECKING:
    from pandas import DataFrame

#: A column of one of these kinds with no unit is read in degrees unless its values are small enough for radians.
_RADIANS_UP_TO = 6.3


def looks_like(head: str) -> bool:
    """Tell a table: anything with a line that can be cut into cells; asked last of all formats.

    Parameters
    ----------
    head : str

    Returns
    -------
    bool
    """
    return any(mark in line for line in head.splitlines()[:HEAD_LINES] for mark in ",;\t| ")


@dataclass
class _Reading:
    """What is collected while the columns are gone through."""

    content: Content
    layout: Layout
    frame: DataFrame
    sources: list[Source] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    channels: dict[str, FloatArray] = field(default_factory=dict)
    undecided: list[Undecided] = field(default_factory=list)

    def note(self, place: int, channel: str, unit: str, standing: str, why: str = "") -> None:
        self.sources.append(Source(shown(self.layout.headers[place]), channel, unit, standing, why))

    def stated_unit(self, place: int, meaning: Meaning) -> tuple[Unit | None, str]:
        """Return the unit the person, the header or the units row gives, and whether it was told."""
        kind, header, units = meaning.concept.kind, self.layout.headers[place], self.content.options.units
        for name, text in units.items():
            concept = concept_named(name)
            if name.strip().casefold() == header.casefold() or (
                concept is not None and concept == meaning.concept
            ):
                unit = unit_of(text, kind)
                if unit is None:
                    raise LogError(
                        f"'{text}' is no unit for '{name}'",
                        file=self.content.name,
                        place="--units",
                        mend=_UNIT_HELP,
                    )
                return unit, "told"
        if meaning.unit is not None:
            return meaning.unit, "recognised"
        words = self.layout.units[place].split()
        found = next((u for text in (self.layout.units[place], *words) if (u := unit_of(text, kind))), None)
        return found, "recognised"


_UNIT_HELP = (
    "lengths: m, ft; speeds: kt, km/h, mph, m/s; climb: fpm, m/s; angles: deg, rad; temperature: C, F, K"
)


def read(content: Content) -> list[RawFlight]:
    """Read a table.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight
        One for each aircraft where a column tells them apart.

    Raises
    ------
    LogError
        Where no time or no position column is found, or the table cannot be cut into columns.
    """
    refuse_long_lines(content.data, content.name)
    encoding = encoding_of(content.data)
    head = content.data[:400_000].decode(encoding, errors="replace")
    layout = find_layout(head.splitlines()[: HEAD_LINES + 5], content)
    found = meanings(layout, content)
    reading = _Reading(content, layout, _frame(content, layout, sorted(found), encoding))
    if reading.frame.empty:
        raise LogError(
            "the table has a header and no rows", file=content.name, place=f"line {layout.first_line}"
        )
    chosen = _choose(reading, found)
    lat, lon = _position(reading, chosen)
    clock = _clock(reading, chosen)
    for name, (place, meaning, standing) in chosen.items():
        if meaning.concept.channel:
            _channel(reading, name, place, meaning, standing)
    for place, header in enumerate(layout.headers):
        if place not in found and header:
            reading.note(place, "", "", "ignored", "means nothing the program uses")
    flight = RawFlight(
        clock.time_s,
        lat,
        lon,
        clock.dated,
        reading.channels,
        notices=(*reading.notices, *clock.notices),
        sources=tuple(reading.sources),
        undecided=tuple(reading.undecided),
    )
    return _by_aircraft(reading, chosen, flight)


def _frame(content: Content, layout: Layout, places: list[int], encoding: str) -> DataFrame:
    """Cut the table with the C engine; only the columns that mean something."""
    import pandas as pd

    if encoding in ("utf-8", "utf-8-sig"):
        source: io.BytesIO | io.StringIO = io.BytesIO(content.data)
    else:
        source = io.StringIO(content.data.decode(encoding, errors="replace"))
    last = None
    # A stray quotation mark swallows the rest of the file; then quotes are taken for plain characters.
    for quoting in (0, 3):
        source.seek(0)
        try:
            frame = pd.read_csv(
                source,
                sep=r"\s+" if layout.separator == " " else layout.separator,
                header=None,
                names=list(range(len(layout.headers))),
                usecols=places,
                skiprows=layout.first_line,
                na_values=MISSING,
                encoding=encoding,
                encoding_errors="replace",
                engine="c",
                on_bad_lines="skip",
                quoting=quoting,
                skipinitialspace=True,
                low_memory=False,
                index_col=False,
                nrows=MAX_SAMPLES + 1,
            )
        except (ValueError, OverflowError) as error:
            last = error
            continue
        if len(frame) > MAX_SAMPLES:
            raise LogError(
                f"the table has more than {MAX_SAMPLES:,} rows",
                file=content.name,
                mend="cut it to the flight",
            )
        return frame
    raise LogError(f"the rows cannot be cut into columns: {shown(str(last))}", file=content.name) from last


def _choose(reading: _Reading, found: dict[int, tuple[Meaning, str]]) -> dict[str, tuple[int, Meaning, str]]:
    """Keep one column for each meaning: the person's, then the better phrase, then the one with more values."""
    chosen: dict[str, tuple[int, Meaning, str]] = {}
    filled = {place: int(reading.frame[place].notna().sum()) for place in found}
    # An altitude that says its unit is worth more than a better altitude that does not.
    unsaid = {
        p: found[p][0].concept.name == "alt" and reading.stated_unit(p, found[p][0])[0] is None for p in found
    }
    order = sorted(found, key=lambda p: (found[p][1] != "told", unsaid[p], found[p][0].rank, -filled[p], p))
    for place in order:
        meaning, standing = found[place]
        name = meaning.concept.name
        if filled[place] == 0:
            reading.note(place, "", "", "ignored", "the column is empty")
        elif name in chosen:
            other = reading.layout.headers[chosen[name][0]]
            reading.note(place, "", "", "ignored", f"'{shown(other)}' says the same")
        elif name == "time":
            chosen[name] = (place, meaning, standing)
        else:
            # A better phrase with hardly any values loses to a plainer one that is filled.
            rivals = [p for p in order if found[p][0].concept.name == name and filled[p] > 5 * filled[place]]
            if rivals and standing != "told":
                reading.note(place, "", "", "ignored", "nearly empty, and another column says the same")
            else:
                chosen[name] = (place, meaning, standing)
    return chosen


def _position(
    reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]]
) -> tuple[FloatArray, FloatArray]:
    if "lat" in chosen and "lon" in chosen:
        both = []
        for name in ("lat", "lon"):
            place, meaning, standing = chosen[name]
            unit, told = reading.stated_unit(place, meaning)
            reading.note(
                place, "position", unit.name if unit else "deg", standing if told != "told" else told
            )
            both.append(angles(reading.frame[place]) * (unit.factor if unit is not None else 1.0))
        return both[0], both[1]
    if "position" in chosen:
        place, _, standing = chosen["position"]
        parts = (
            reading.frame[place].astype(str).str.extract(r"^\W*([^,;]*\d[^,;]*)[,;]\s*([^,;]*\d[^,;]*?)\W*$")
        )
        if parts[0].notna().any():
            reading.note(place, "position", "deg", standing)
            return angles(parts[0]), angles(parts[1])
    missing = " and ".join(name for name in ("lat", "lon") if name not in chosen) or "lat and lon"
    raise LogError(
        f"no column with values gives {missing}",
        file=reading.content.name,
        place=f"line {reading.layout.first_line}",
        mend="say which: --columns lat=…,lon=…",
    )


def _clock(reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]]) -> Clock:
    if "time" not in chosen:
        raise LogError(
            "no column gives the time",
            file=reading.content.name,
            place=f"line {reading.layout.first_line}",
            mend="say which: --columns time=…; positions without times cannot be timed",
        )
    place, meaning, standing = chosen["time"]
    column = reading.frame[place]
    unit, told = reading.stated_unit(place, meaning)
    local = "local" in meaning.words
    if column.dtype.kind in "fiu":
        clock = number_clock(np.array(column, float), unit)
    else:
        values, _ = numbers(column)
        clock = (
            number_clock(values, unit)
            if np.isfinite(values).mean() > 0.5
            else text_clock(column, local=local)
        )
    if not np.isfinite(clock.time_s).any():
        raise LogError(
            "the times cannot be read",
            file=reading.content.name,
            place=f"column '{shown(reading.layout.headers[place])}'",
            mend="write them as ISO 8601 (2026-03-14T12:00:00Z) or as seconds",
        )
    standing = "assumed" if clock.assumed else "told" if "told" in (standing, told) else standing
    reading.note(place, "time", clock.unit, standing, clock.assumed)
    if clock.scale_open:
        values = clock.time_s
        header = reading.layout.headers[place]
        reading.undecided.append(Undecided("time", "time", "", header, values))
    clock = _with_date(reading, chosen, clock)
    return _with_offset(reading, chosen, clock)


def _with_date(reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]], clock: Clock) -> Clock:
    """Add the date column to a time of day."""
    if "date" not in chosen:
        return clock
    place, _, standing = chosen["date"]
    if clock.dated or clock.unit not in ("time of day", "hhmmss"):
        reading.note(place, "", "", "ignored", "the time column carries the date")
        return clock
    days, notices = date_column(reading.frame[place])
    if not np.isfinite(days).any():
        reading.note(place, "", "", "ignored", "the date cannot be read for certain")
        return replace(clock, notices=(*clock.notices, *notices))
    reading.note(place, "date", "", standing)
    first = int(np.flatnonzero(np.isfinite(days))[0])
    # The day of each row comes from the clock's own midnights: recorders change the date a row early or late,
    # and a column that never changes would send the flight back by a day.
    start_day = (
        days[first] - np.floor(clock.time_s[first] / DAY_S) * DAY_S
        if np.isfinite(clock.time_s[first])
        else days[first]
    )
    own, _ = unroll_days(clock.time_s % DAY_S)
    stepped = np.nan_to_num(np.nanmax(days) - np.nanmin(days)) > 1.5 * DAY_S
    time_s = days + clock.time_s % DAY_S if stepped else start_day + np.where(np.isfinite(own), own, np.nan)
    zone = () if _says_utc(reading, chosen) or "utc_offset" in chosen else (_zone_notice(reading, chosen),)
    return replace(clock, time_s=time_s, dated=True, notices=(*clock.notices, *notices, *zone))


def _says_utc(reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]]) -> bool:
    words = {word for name in ("time", "date") if name in chosen for word in chosen[name][1].words}
    return bool(words & {"utc", "zulu", "gmt", "z"})


def _zone_notice(reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]]) -> Notice:
    local = any("local" in chosen[name][1].words for name in ("time", "date") if name in chosen)
    said = "The times are local and no offset from UTC is given" if local else "The times carry no time zone"
    return Notice("time-zone-assumed", f"{said}; read as UTC.")


def _with_offset(reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]], clock: Clock) -> Clock:
    """Take local time back to UTC by the offset column."""
    if "utc_offset" not in chosen:
        return clock
    place, _, standing = chosen["utc_offset"]
    if (
        not clock.dated
        or (clock.unit == "ISO 8601" and not clock.notices)
        or "since" in clock.unit
        or _says_utc(reading, chosen)
    ):
        reading.note(place, "", "", "ignored", "the times are UTC already or have no date")
        return clock
    offset = offset_seconds(reading.frame[place])
    known = offset[np.isfinite(offset)]
    if known.size == 0:
        reading.note(place, "", "", "ignored", "no offset can be read")
        return clock
    reading.note(place, "time", "offset from UTC", standing)
    time_s = clock.time_s - np.where(np.isfinite(offset), offset, known[0])
    return replace(
        clock, time_s=time_s, notices=tuple(n for n in clock.notices if n.code != "time-zone-assumed")
    )


def _channel(reading: _Reading, name: str, place: int, meaning: Meaning, standing: str) -> None:
    values, cell_unit = numbers(reading.frame[place])
    concept = meaning.concept
    known = values[np.isfinite(values)]
    if known.size == 0:
        reading.note(place, "", "", "ignored", "no cell holds a number")
        return
    unit, told = reading.stated_unit(place, meaning)
    unit = unit or (unit_of(cell_unit, concept.kind) if cell_unit else None)
    if unit is None and concept.kind == "angle" and np.abs(known).max() > _RADIANS_UP_TO:
        unit = unit_of("deg", "angle")
    if unit is None:
        reading.undecided.append(
            Undecided(name, concept.kind, concept.channel, reading.layout.headers[place], values)
        )
        return
    reading.note(place, concept.channel, unit.name, "told" if "told" in (told, standing) else standing)
    reading.channels[concept.channel] = values * unit.factor + unit.offset
    if concept.name == "alt":
        reading.notices.extend(_datum(meaning))


def _datum(meaning: Meaning) -> list[Notice]:
    words = set(meaning.words)
    if words & {"gps", "gnss", "geometric", "geom", "geo", "wgs84", "hae", "ellipsoid", "wgs"}:
        said = "a receiver's height, not an altimeter's: it differs from the indicated altitude by the day's error"
    elif words & {"pressure", "pres", "press", "fl", "level", "standard", "std", "qne"}:
        said = "pressure altitude on 1013.25 hPa: below the transition level it differs from the indicated altitude"
    else:
        return []
    return [Notice("altitude-datum", f"The altitude column is {said}.")]


def _by_aircraft(
    reading: _Reading, chosen: dict[str, tuple[int, Meaning, str]], flight: RawFlight
) -> list[RawFlight]:
    """Part the rows by the column that names the aircraft, if one does."""
    if "id" not in chosen:
        return [flight]
    place, _, standing = chosen["id"]
    column = reading.frame[place].ffill().astype(str)
    names = list(dict.fromkeys(column))
    # A number that changes with every row counts rows, not aircraft.
    if len(names) > min(MAX_FLIGHTS, max(1, len(column) // 2)):
        reading.note(place, "", "", "ignored", "it changes too often to tell aircraft apart")
        return [replace(flight, sources=tuple(reading.sources))]
    reading.note(place, "aircraft", "", standing)
    flight = replace(flight, sources=tuple(reading.sources))
    codes = column.to_numpy()
    if len(names) == 1:
        return [flight]
    return [
        replace(flight.take(np.flatnonzero(codes == name)), label=shown(str(name)), aircraft=str(name))
        for name in names
    ]
