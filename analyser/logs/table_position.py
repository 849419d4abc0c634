"""A table's position of each row: two columns, with or without letters for the side, or one that holds both."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.logs.agreement import speed_ratio
from analyser.logs.limits import some_of
from analyser.logs.log_thresholds import COORDINATES, LOOK
from analyser.logs.meaning import vocabulary, words_of
from analyser.logs.movement import is_flying_speed, movement, offsets, usual_speed_kt
from analyser.logs.number_text import SIDES, angles
from analyser.logs.positions import are_swapped
from analyser.logs.raw import FloatArray
from analyser.logs.table_columns import FlightTable, TableColumn
from analyser.logs.text import shown
from analyser.logs.time_text import Clock
from analyser.logs.units import ELAPSED

if TYPE_CHECKING:
    from pandas import Series

Positions = tuple[FloatArray, FloatArray]

#: The letter O alone, before or behind a position.
_LETTER_O = re.compile(r"^\s*O(?![A-Za-z])|(?<![A-Za-z])O\s*$", re.IGNORECASE)
#: Headers with the first of these words and none of the others count south and west.
_AWAY = {"lat": ({"south"}, {"n", "north"}), "lon": ({"w", "west"}, {"e", "east"})}


def table_position(table: FlightTable) -> Positions:
    """Read the position of each row; LogError where no column with values gives it."""
    chosen = table.chosen
    if "lat" in chosen and "lon" in chosen:
        lat, lon = _plain_degrees(table, _coordinate(table, "lat"), _coordinate(table, "lon"))
        _say_others(table, lat, lon)
        return lat, lon
    pair = _pair(chosen["position"]) if "position" in chosen else None
    if pair is not None:
        chosen["position"].note("position", "deg")
        return pair
    missing = " and ".join(name for name in ("lat", "lon") if name not in chosen) or "lat and lon"
    raise table.content.refusal(
        f"no column with values gives {missing}",
        f"line {table.layout.first_line}",
        "say which: --columns lat=…,lon=…",
    )


def _say_others(table: FlightTable, lat: FloatArray, lon: FloatArray) -> None:
    """Say that other columns hold positions far away that move: another aircraft's, which is not read."""
    others = [
        [column for column in table.beside if column.meaning.concept.name == name] for name in ("lat", "lon")
    ]
    for columns in zip(*others, strict=False):
        there = [angles(column.cells) for column in columns]
        away_km = np.hypot(*offsets(lat, lon, *there)) / 1000.0
        known = np.isfinite(away_km)
        if known.sum() < 3 or max(np.ptp(values[known]) for values in there) < COORDINATES.moves_deg:
            continue
        if np.median(away_km[known]) > COORDINATES.apart_km:
            names = " and ".join(f"'{column.header}'" for column in columns)
            table.notice(
                "flight-left-out",
                f"Columns {names} hold other positions, {np.median(away_km[known]):,.0f} km away: another aircraft's, "
                "which were not read (to read those, say --columns lat=…,lon=…).",
            )


def _coordinate(table: FlightTable, name: str) -> FloatArray:
    """Read the latitudes or the longitudes with what stands in columns beside them."""
    column = table.chosen[name]
    unit, words = column.unit(), set(column.meaning.words)
    column.note("position", unit.name if unit else "deg")
    written = _with_east_and_west(column, column.cells) if name == "lon" else column.cells
    degrees = angles(written)
    if unit is not None and unit.factor != 1.0:
        degrees = degrees * unit.factor
    if name == "lon" and "o" in words and _o_is_west(column, written):
        degrees = -degrees
    if _AWAY[name][0] & words and not _AWAY[name][1] & words:
        degrees = -np.abs(degrees)
    if not np.isfinite(degrees).any():
        cell = shown(str(column.cells.dropna().iloc[0]), LOOK.label_letters)
        raise table.content.refusal(
            f"no cell can be read as a position, such as '{cell}'",
            f"column '{column.header}'",
            "write degrees such as 48.1234 or N48°07.4'",
        )
    return _on_its_side(table, name, _with_minutes(table, name, degrees))


def _with_east_and_west(column: TableColumn, written: Series[Any]) -> Series[Any]:
    """Put E or W in place of the letter O, which is east in German and west in French, Spanish and Italian."""
    if written.dtype.kind in "fiu":
        return written
    text = written.astype(str)
    if not text.str.contains(_LETTER_O).any():
        return written
    letter = "W" if _o_is_west(column, text) else "E"
    return text.str.replace(_LETTER_O, letter, regex=True).where(written.notna())


def _o_is_west(column: TableColumn, written: Series[Any]) -> bool:
    """Tell by the letter on the other side, else by the language of the headers; LogError where neither tells."""
    cells = written.astype(str).str.strip().str.upper()
    others = {letter for letter in "EW" if cells.str.contains(rf"^{letter}\b|\b{letter}$|\d{letter}$").any()}
    if len(others) == 1:
        return others == {"E"}
    known = vocabulary()
    headers = column.table.layout.headers
    words = {word for header in headers for word in words_of(header)}
    west = bool(words & known.o_is_west)
    if west == bool(words & known.o_is_east):
        raise column.table.content.refusal(
            "the letter O beside longitudes is east in German and Dutch, west in French, Spanish and Italian, "
            "and the headers do not tell the language",
            f"column '{column.header}'",
            "write E or W",
        )
    return west


#: How one cell holds a position. Well-known text (ISO 19125) puts the longitude first; ISO 6709 parts by signs.
_PAIRS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"POINT\s*(?:Z|M|ZM)?\s*\(\s*(?P<lon>\S+)\s+(?P<lat>[^\s)]+)",
        r"^\s*(?P<lat>[+-]\d{1,2}\.\d+)(?P<lon>[+-]\d{1,3}\.\d+)",
        r"^[\s(\[]*(?P<lat>[^;/]*\d[^;/]*)[;/]\s*(?P<lon>[^;/)\]]*\d[^;/)\]]*)",
        r"^[\s(\[]*(?P<lat>[^,]*\d[^,]*),\s*(?P<lon>[^,)\]]*\d[^,)\]]*)",
        r"^\s*(?P<lat>[^A-Z]*\d[^A-Z]*[NS]|[NS][^A-Z]*\d[^A-Z]*)\s*(?P<lon>[^A-Z]*\d[^A-Z]*[EWO]|[EWO][^A-Z]*\d[^A-Z]*)$",
        r"^[\s(\[]*(?P<lat>[+-]?\d+\.\d+)\s+(?P<lon>[+-]?\d+\.\d+)",
    )
)


def _pair(column: TableColumn) -> Positions | None:
    """Read cells that hold latitude and longitude, in the order that the header or the form says."""
    cells = column.cells.astype(str).str.slice(0, LOOK.cell_letters)
    for pattern in _PAIRS:
        parts = cells.str.extract(pattern)
        if parts["lat"].notna().any():
            lat, lon = angles(parts["lat"]), angles(_with_east_and_west(column, parts["lon"]))
            named = [word[:3] for word in column.meaning.words if word[:3] in ("lat", "lon", "lng")]
            return (lon, lat) if named in (["lon", "lat"], ["lng", "lat"]) else (lat, lon)
    return None


def _with_minutes(table: FlightTable, name: str, degrees: FloatArray) -> FloatArray:
    """Add columns of minutes and seconds to a column of whole degrees, away from the equator and Greenwich."""
    if f"{name}_minutes" not in table.chosen or (np.nan_to_num(degrees) % 1.0).any():
        return degrees
    # The side stands before the degrees, also before −0, or before the minutes of no degrees.
    written = table.chosen[name].cells.astype(str).str.strip()
    negative, size = (degrees < 0.0) | written.str.startswith("-").to_numpy(), np.abs(degrees)
    for part, share in (("minutes", 60.0), ("seconds", 3600.0)):
        column = table.chosen.get(f"{name}_{part}")
        if column is not None:
            column.note("position", part)
            more = column.numbers() / share
            negative, size = negative | (more < 0.0), size + np.abs(more)
    return np.where(negative, -size, size)


def _on_its_side(table: FlightTable, name: str, degrees: FloatArray) -> FloatArray:
    """Put positions without a sign on the side that their column of letters says."""
    column = table.chosen.get(f"{name}_side")
    if column is None:
        return degrees
    written = _with_east_and_west(column, column.cells) if name == "lon" else column.cells
    sides = written.astype(str).str.strip().str.lower()
    positive, negative = SIDES[name]
    if not sides[column.cells.notna()].isin((*positive, *negative)).any():
        column.ignore("its cells name no side")
        return degrees
    column.note("position")
    return np.where(sides.isin(negative), -np.abs(degrees), degrees)


def _mostly_degrees(lat: FloatArray, lon: FloatArray) -> bool:
    """Tell whether most positions but zeros can be degrees."""
    away = np.abs(lat) + np.abs(lon) > 0.0
    inside = away & (np.abs(lat) <= 90.0) & (np.abs(lon) <= 360.0)
    return bool(np.count_nonzero(inside) > 0.5 * np.count_nonzero(away))


#: Other forms than degrees, the smaller numbers first: how many degrees (twice so many of longitude) they may come to
#: as they are written, how many parts of sixtieths they end with, what they are multiplied by, and what is said.
_FORMS = (
    (9e3, 1, 1.0, "degrees and minutes run together, as 4806.12 for 48°06.12'"),
    (9.06e5, 2, 1.0, "degrees, minutes and seconds run together, as 480607.2 for 48°06'07.2\""),
    (9e7, 0, 1e-6, "millionths of a degree (for ten-millionths say --units lat=e7,lon=e7)"),
    (
        *(9e8, 0, 1e-7),
        "ten-millionths of a degree (for semicircles say --units lat=semicircles,lon=semicircles)",
    ),
    (np.inf, 0, 180.0 / 2.0**31, "semicircles, of which 2³¹ are 180°"),
)


def _plain_degrees(table: FlightTable, lat: FloatArray, lon: FloatArray) -> Positions:
    """Read degrees and minutes run together (4806.12), millionths and semicircles, where nothing else is possible.

    ``position_lat`` is what the FIT protocol calls semicircles; beyond 90° in ten-millionths there is nothing else.
    """
    # Most of the first rows tell: a row may be cut off, and before its first fix a receiver writes zeros.
    if _mostly_degrees(lat[: LOOK.first_rows], lon[: LOOK.first_rows]):
        return lat, lon
    known = np.isfinite(lat) & np.isfinite(lon) & ((lat != 0.0) | (lon != 0.0))
    if not known.any() or _mostly_degrees(lat, lon) or are_swapped(lat, lon):
        return lat, lon
    # Beside the equator or Greenwich one of the two is small in any form.
    both = np.abs(np.concatenate([lat[known], lon[known]]))
    largest = max(float(np.abs(lat[known]).max()), 0.5 * float(np.abs(lon[known]).max()))
    # Recorders that round write 60.0: only more is a fault.
    below = [float(np.mean(part % 100.0 <= 60.0)) for part in (both, both // 100.0)]
    sixtieths = [share > COORDINATES.most_share for share in below]
    whole = bool((both == np.round(both)).all()) and largest > _FORMS[1][0]
    for most, parts, scale, form in _FORMS:
        named_otherwise = scale == 1e-7 and "position" in table.words("lat")
        fits = all(sixtieths[:parts]) if parts else whole and not named_otherwise
        if largest <= most and fits:
            return _read_as(table, form, lat * scale, lon * scale, parts)
    return lat, lon


def _read_as(table: FlightTable, form: str, lat: FloatArray, lon: FloatArray, parts: int = 0) -> Positions:
    """Say what the positions are read as; bring so many parts of sixtieths, run together, to degrees."""
    table.notice("position-form-assumed", f"The positions are read as {form}.")
    return _of_sixtieths(lat, parts), _of_sixtieths(lon, parts)


def _of_sixtieths(run: FloatArray, parts: int) -> FloatArray:
    """Read degrees with minutes (one part), or minutes and seconds (two), run together: two digits each."""
    size, degrees = np.abs(run), np.zeros(run.size)
    for _ in range(parts):
        degrees = (size % 100.0 + degrees) / 60.0
        size = size // 100.0
    return np.sign(run) * (size + degrees)


def in_degrees(table: FlightTable, lat: FloatArray, lon: FloatArray, clock: Clock) -> Positions:
    """Turn positions into degrees where only radians, or minutes behind the point, give a flight."""
    stated = [unit for name in ("lat", "lon") if name in table.chosen and (unit := table.chosen[name].unit())]
    parts = _behind_the_point(table, lat, lon, clock) if all(unit.name == "deg" for unit in stated) else 0
    if parts:
        # What the point's own place adds in the last digits is rounded off.
        lat, lon = (np.round(values * 100.0**parts, 6) for values in (lat, lon))
        return _read_as(table, _BEHIND_THE_POINT[parts], lat, lon, parts)
    # The first rows nearly always tell, and looking at all of them takes long.
    if stated or any(
        max(_farthest(lat[rows]), 0.5 * _farthest(lon[rows])) > np.pi / 2.0
        for rows in (slice(LOOK.first_rows), slice(None))
    ):
        return lat, lon
    known = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(clock.time_s)
    # A time whose unit is open must fly in some unit as radians, and in none as degrees.
    units = [unit.factor for unit in ELAPSED] if clock.scale_open else [1.0]
    as_degrees = usual_speed_kt(clock.time_s[known], lat[known], lon[known])
    as_radians = usual_speed_kt(clock.time_s[known], np.degrees(lat[known]), np.degrees(lon[known]))
    factor = next((one for one in units if is_flying_speed(as_radians / one)), 0.0)
    if not factor or any(is_flying_speed(as_degrees / one) for one in units):
        return lat, lon
    speeds = f"at {as_degrees / factor:.1f} kt, so at {as_radians / factor:.0f} kt"
    form = f"radians: as degrees the aircraft would move {speeds}"
    return _read_as(table, form, np.degrees(lat), np.degrees(lon))


def _farthest(degrees: FloatArray) -> float:
    return float(np.fmax.reduce(np.abs(degrees), initial=0.0))


#: Minutes, or minutes and seconds, behind the point: what surveyors write.
_BEHIND_THE_POINT = {
    1: "degrees with minutes behind the point, as 48.0612 for 48°06.12'",
    2: "degrees with minutes and seconds behind the point, as 48.06072 for 48°06'07.2\"",
}


def _behind_the_point(table: FlightTable, lat: FloatArray, lon: FloatArray, clock: Clock) -> int:
    """Tell how many parts of sixtieths stand behind the point, as in 48.0559: minutes, and seconds; 0 for decimals.

    No minutes or seconds are above 59. Minutes alone show where they pass into the next degree, or by a ground speed
    that is logged: else only the header tells them.
    """
    some = [np.abs(values[some_of(lat.size)]) for values in (lat, lon)]
    behind = [np.round(values[np.isfinite(values)] % 1.0 * 1e4, 4) for values in some]
    if any(values.size == 0 or (values >= 6000.0).any() for values in behind):
        return 0
    words = table.words("lat")
    minutes_seen, seconds_seen = (
        max(np.unique(values // part % 100.0).size for values in behind) for part in (100.0, 1.0)
    )
    many = minutes_seen >= COORDINATES.minutes_seen and seconds_seen >= COORDINATES.seconds_seen
    if (many or words & {"dms", "mmss"}) and not any((values % 100.0 > 60.0).any() for values in behind):
        return 2
    seam = any(_passes_a_degree(np.abs(values[np.isfinite(values)])) for values in (lat, lon))
    return int(seam or "dm" in words or _fits_ground_speed(table, lat, lon, clock))


def _passes_a_degree(degrees: FloatArray) -> bool:
    """Tell whether 48.6 is followed by 49, or the other way round, on a way in small steps."""
    steps, minutes = np.abs(np.diff(degrees)), degrees % 1.0
    ends = np.abs(minutes[1:] - minutes[:-1]) > 0.6 - 2.0 * COORDINATES.seam_deg
    seams = (np.abs(steps - 0.4) < COORDINATES.seam_deg) & ends
    return bool(seams.any() and np.median(steps) < COORDINATES.seam_deg)


def _fits_ground_speed(table: FlightTable, lat: FloatArray, lon: FloatArray, clock: Clock) -> bool:
    """Tell whether the logged ground speed, in a unit that is said, is that of minutes behind the point."""
    column = table.chosen.get("gs")
    unit = column.unit() if column is not None else None
    rows = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon) & np.isfinite(clock.time_s))
    rows = rows[: COORDINATES.speed_rows]
    rows = rows[np.diff(clock.time_s[rows], prepend=-np.inf) > 0.0]
    if column is None or unit is None or clock.scale_open or rows.size < COORDINATES.seconds_seen:
        return False
    moved = movement(clock.time_s[rows], *(_of_sixtieths(values[rows] * 100.0, 1) for values in (lat, lon)))
    ratio, scatter = speed_ratio(column.numbers()[rows] * unit.factor, moved) or (0.0, 1.0)
    return abs(ratio - 1.0) < COORDINATES.near_speed_share and scatter < COORDINATES.near_speed_share
