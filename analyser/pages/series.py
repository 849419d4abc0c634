"""One hold as its pictures and its replay use it: its parts, and its time series once a second, seen from the fix."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.frozen import dataclass

FloatArray = NDArray[np.float64]

#: More points than this in one hold are thinned to every second, third … one.
MOST_POINTS = 4000


@dataclass(frozen=True)
class HoldSeries:
    """What the replay shows at each instant.

    Attributes
    ----------
    time_s : (n,) float array
    east_nm, north_nm : (n,) float array
        From the fix.
    air_east_nm, air_north_nm : (n,) float array
        The same flight as the air saw it: where it would have been had the air stood still since the arrival.
    drift_east_nm, drift_north_nm : (n,) float array
        Where the fix is in that picture.
    along_nm, cross_nm : (n,) float array
        Along the inbound course (negative before the fix) and right of it, as flown inbound.
    altitude_ft, ias_kt, tas_kt, ground_speed_kt, heading_deg, track_deg, bank_deg : (n,) float array
    in_hole : (n,) bool array
    seams_s : tuple of float
        Where time was taken out of the log, or put in: what lies across one is not timed.
    """

    time_s: FloatArray
    east_nm: FloatArray
    north_nm: FloatArray
    air_east_nm: FloatArray
    air_north_nm: FloatArray
    drift_east_nm: FloatArray
    drift_north_nm: FloatArray
    along_nm: FloatArray
    cross_nm: FloatArray
    altitude_ft: FloatArray
    ias_kt: FloatArray
    tas_kt: FloatArray
    ground_speed_kt: FloatArray
    heading_deg: FloatArray
    track_deg: FloatArray
    bank_deg: FloatArray
    in_hole: NDArray[np.bool_]
    seams_s: tuple[float, ...] = ()

    def within(self, start_s: float, end_s: float) -> slice:
        """Return the slice from ``start_s`` to ``end_s``, one point beyond each end so that spans meet."""
        first, last = np.searchsorted(self.time_s, [start_s, end_s])
        return slice(max(int(first) - 1, 0) if start_s > self.time_s[0] else 0, int(last) + 1)


def hold_series(flown: FlownHold) -> HoldSeries:
    """Take from a flown hold the series that the page draws.

    Returns
    -------
    HoldSeries
        On every k-th point of the motion's grid, so that points are about a second apart.
    """
    motion = flown.motion
    step = float(np.median(np.diff(motion.time_s))) if motion.time_s.size > 1 else 1.0
    stride = max(1, round(1.0 / max(step, 1e-6)))
    stride = max(stride, math.ceil(motion.time_s.size / MOST_POINTS))
    pick = slice(None, None, stride)
    east, north = motion.east_nm, motion.north_nm
    drift_east, drift_north = _drift(flown)
    course = math.radians(flown.hold.inbound_course_true_deg)
    series: dict[str, Any] = {
        "time_s": motion.time_s,
        "east_nm": east,
        "north_nm": north,
        "air_east_nm": east - drift_east,
        "air_north_nm": north - drift_north,
        "drift_east_nm": -drift_east,
        "drift_north_nm": -drift_north,
        "along_nm": east * math.sin(course) + north * math.cos(course),
        "cross_nm": east * math.cos(course) - north * math.sin(course),
        "altitude_ft": motion.altitude_ft,
        "ias_kt": motion.ias_kt,
        "tas_kt": motion.tas_kt,
        "ground_speed_kt": motion.ground_speed_kt,
        "heading_deg": motion.heading_deg,
        "track_deg": motion.track_deg,
        "bank_deg": motion.bank_deg,
        "in_hole": motion.in_hole,
    }
    return HoldSeries(
        **{name: values[pick] for name, values in series.items()}, seams_s=tuple(motion.seams_s)
    )


def _drift(flown: FlownHold) -> tuple[FloatArray, FloatArray]:
    # The air's own movement, summed by trapezia from the arrival at the fix, so that both views agree there.
    motion = flown.motion
    seconds = np.diff(motion.time_s, prepend=motion.time_s[0]) / 3600.0
    moved = []
    for wind in (motion.wind_east_kt, motion.wind_north_kt):
        mean = 0.5 * (wind + np.concatenate((wind[:1], wind[:-1])))
        summed = np.cumsum(mean * seconds)
        moved.append(summed - np.interp(flown.start_s, motion.time_s, summed))
    return moved[0], moved[1]


#: Phase → (short code in the page, words, ink, line width, dashes, what its clock counts).
#: Turns are thick and legs thin, the outbound half unbroken and the inbound half dashed, so that the
#: phases can be told apart without any colour.
PHASES: dict[str, tuple[str, str, str, float, tuple[float, ...] | None, str]] = {
    "approach": ("ap", "before the fix", "other", 1.0, (1.5, 3.0), "before the fix"),
    "entry": ("en", "entry", "entry", 1.9, (1.6, 2.4), "entry"),
    "outbound_turn": ("ot", "outbound turn", "out", 3.0, None, "outbound turn"),
    "outbound_leg": ("ol", "outbound leg", "out", 1.5, None, "outbound clock"),
    "inbound_turn": ("it", "inbound turn", "in", 3.0, (8.0, 2.2), "inbound turn"),
    "inbound_leg": ("il", "inbound leg", "in", 1.5, (8.0, 2.2), "inbound clock"),
    "departure": ("de", "after the hold", "other", 1.0, (1.5, 3.0), "after the hold"),
}


@dataclass(frozen=True)
class Span:
    """One phase in time.

    Attributes
    ----------
    phase : str
        A key of :data:`PHASES`.
    circuit : int
        The circuit's number, 0 outside circuits.
    start_s, end_s : float
        Seconds from the log's first sample.
    clock_s : float
        Where the phase's clock starts: the outbound one by the rules, the others with the phase.
    """

    phase: str
    circuit: int
    start_s: float
    end_s: float
    clock_s: float


def spans(flown: FlownHold) -> list[Span]:
    """Cut a flown hold's whole stretch into phases.

    Returns
    -------
    list of Span
        In order of time, each beginning where the one before ends; parts never flown are left out.
    """
    first, last = float(flown.motion.time_s[0]), float(flown.motion.time_s[-1])
    marks: list[tuple[str, int, float, float]] = [("approach", 0, first, first)]
    if flown.entry is not None:
        marks.append(("entry", 0, flown.entry.fix_s, flown.entry.fix_s))
    for circuit in flown.circuits:
        marks += _marks(circuit)
    end = max([flown.end_s, *(circuit.end_s for circuit in flown.circuits)])
    marks.append(("departure", 0, end, end))
    closed = zip(marks, [*(mark[2] for mark in marks[1:]), last], strict=True)
    return [
        Span(phase, number, start, until, clock)
        for (phase, number, start, clock), until in closed
        if until - start > 1e-6
    ]


def _marks(circuit: Circuit) -> list[tuple[str, int, float, float]]:
    number = circuit.number
    marks = []
    if circuit.outbound_turn is not None:
        # Between the fix and the first bank there is nothing but the pilot's reaction: part of the turn.
        marks.append(("outbound_turn", number, circuit.start_s, circuit.outbound_turn.start_s))
    if circuit.outbound_leg is not None:
        level = circuit.outbound_leg.start_s
        marks.append(("outbound_leg", number, level, max(level, circuit.abeam_s or level)))
    if circuit.inbound_turn is not None:
        marks.append(("inbound_turn", number, circuit.inbound_turn.start_s, circuit.inbound_turn.start_s))
    if circuit.inbound_leg is not None:
        marks.append(("inbound_leg", number, circuit.inbound_leg.start_s, circuit.inbound_leg.start_s))
    return marks


@dataclass(frozen=True)
class LegendLine:
    """One phase: its short code, its words, and a sample of its line."""

    code: str
    words: str
    sample: Markup


def legend(spans: Sequence[Span]) -> list[LegendLine]:
    """Return the key for the phases that occur."""
    flown = {span.phase for span in spans}
    return [
        LegendLine(code, words, line_sample(ink, width, dash))
        for phase, (code, words, ink, width, dash, _) in PHASES.items()
        if phase in flown
    ]


def line_sample(ink: str, width: float, dash: Sequence[float] | None = None) -> Markup:
    """Draw a short piece of line for a key."""
    dashes = f' stroke-dasharray="{" ".join(f"{step:g}" for step in dash)}"' if dash else ""
    return Markup(
        '<svg class="sample" viewBox="0 0 34 10" aria-hidden="true">'
        f'<path fill="none" stroke="var(--ink-{ink})" stroke-width="{width:g}"{dashes} d="M1 5L33 5"/></svg>'
    )
