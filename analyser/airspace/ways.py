"""The ways that a holding area is swept from: the circuit, and the three entries."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.airspace.allowances import load_airspace_rules
from analyser.airspace.sweep import Sweep, filled
from analyser.airspace.template import TemplateFigures
from analyser.rules.load import load_regime

FloatArray = NDArray[np.float64]

#: Arrival headings within a sector are tried this far apart, degrees.
_APART_DEG = 15.0


def circuit_outline(figures: TemplateFigures, fix_nm: FloatArray) -> Any:
    """Sweep the circuit of a right-hand hold.

    Parameters
    ----------
    fix_nm : (n, 2) float array
        Where the fix may be passed; the one point (0, 0) gives the template itself.
    """
    start = _begin(figures, fix_nm, 0.0)
    start.fly([(0.0, time, time) for time in (0.0, figures.bank_late_s, figures.turn_late_s)])
    # The leg is timed from the latest turn, so only that one is followed.
    late = _arrive(figures, fix_nm, 0.0)
    late.pieces = start.pieces
    late.turn(+1, 180.0)
    _leg(late, figures, +1, 180.0)
    late.back_to(start.circles())
    return filled(late.pieces)


def entry_outline(figures: TemplateFigures, fix_nm: FloatArray, circuit: Any) -> Any:
    """Sweep the entries of a right-hand hold and add the circuit's area.

    Parameters
    ----------
    fix_nm : (n, 2) float array
    circuit : shapely Polygon
        The area of the circuits.
    """
    ways = [*_direct(figures, fix_nm), *_offset(figures, fix_nm), *_parallel(figures, fix_nm)]
    return filled([circuit, *(filled(way.pieces) for way in ways)])


def _begin(figures: TemplateFigures, fix_nm: FloatArray, heading_deg: float) -> Sweep:
    return Sweep(fix_nm, heading_deg, figures.tas_nm_s, figures.wind_nm_s, figures.turn_rate_dps)


def _arrive(figures: TemplateFigures, fix_nm: FloatArray, heading_deg: float) -> Sweep:
    """Pass the fix on any heading and begin the turn as late as the template allows."""
    way = _begin(figures, fix_nm, heading_deg)
    way.fly([(0.0, figures.turn_late_s, figures.turn_late_s)])
    return way


def _leg(way: Sweep, figures: TemplateFigures, turn: int, angle_deg: float) -> None:
    """Fly the outbound leg and the turn after it."""
    spread, early, late = figures.spread_deg, figures.early_s, figures.late_s
    late_wind = early + figures.late_wind_s
    ends = [(off, *end) for off in (-spread, spread) for end in ((early, early), (late, late_wind))]
    if figures.distance_nm is None:
        way.fly(ends)
        way.turn_back(turn, angle_deg)
        return
    # From abeam the limit the turn may still be late, at the ground speed of a full tailwind.
    late_nm = figures.late_wind_s * (figures.tas_nm_s + figures.wind_nm_s)
    way.fly(ends, (-figures.distance_nm - late_nm, -figures.distance_nm))
    way.turn(turn, angle_deg)


def _direct(figures: TemplateFigures, fix_nm: FloatArray) -> Iterator[Sweep]:
    entry = load_regime("icao").entry
    first, last = entry.parallel_sector_deg - 180.0, 180.0 - entry.offset_sector_deg
    for heading in _headings(first, last):
        way = _arrive(figures, fix_nm, heading)
        way.turn(+1, 180.0 - heading)
        _leg(way, figures, +1, 180.0)
        way.back_to(fix_nm)
        yield way


def _offset(figures: TemplateFigures, fix_nm: FloatArray) -> Iterator[Sweep]:
    entry, turns = load_regime("icao").entry, load_airspace_rules().entry_turns
    track = 180.0 - entry.offset_angle_deg
    for heading in _headings(180.0 - entry.offset_sector_deg, 180.0):
        way = _arrive(figures, fix_nm, heading)
        way.turn(+1 if track > heading else -1, abs(track - heading))
        _leg(way, figures, +1, turns.offset_deg)
        way.back_to(fix_nm)
        yield way


def _parallel(figures: TemplateFigures, fix_nm: FloatArray) -> Iterator[Sweep]:
    entry, turns = load_regime("icao").entry, load_airspace_rules().entry_turns
    for heading in _headings(180.0, 180.0 + entry.parallel_sector_deg):
        way = _arrive(figures, fix_nm, heading)
        way.turn(-1, heading - 180.0)
        # Outbound, the holding side of a right-hand hold lies to the left.
        _leg(way, figures, -1, turns.parallel_deg)
        way.back_to(fix_nm)
        yield way


def _headings(first_deg: float, last_deg: float) -> Iterator[float]:
    yield from np.linspace(first_deg, last_deg, int(np.ceil((last_deg - first_deg) / _APART_DEG)) + 1)
