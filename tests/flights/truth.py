"""What was truly flown, read off the full-rate series. The definitions are those of the trade, in words here.

*Leaving level*: the last time the bank passes two degrees outwards before it reaches half of the turn's bank.
*Wings level*: the first time it passes two degrees inwards after it last had half of the turn's bank.
*Established*: from 90 % of the turn's median bank first reached to 90 % last held.
*Passing the fix*: crossing the perpendicular to the inbound course through the fix in the inbound direction;
the closest approach where it was not crossed near it. *Abeam*: the same perpendicular, outbound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.flights.air import MPS
from tests.flights.wander import FloatArray

Series = dict[str, FloatArray]
#: A turn that ended sooner than this, seconds, was none.
SHORTEST_TURN_S = 1.0
LEVEL_DEG = 2.0
NM = 1852.0


@dataclass(frozen=True)
class TrueTurn:
    """One turn; angles positive right."""

    start_s: float
    end_s: float
    established_start_s: float
    established_end_s: float
    bank_mean_deg: float
    bank_max_deg: float
    heading_change_deg: float
    merged: bool = False
    """It grew out of another turn the same way: its wings never left level."""


@dataclass(frozen=True)
class TrueCircuit:
    """One circuit; what was not flown is None."""

    start_s: float
    end_s: float
    complete: bool
    outbound_turn: TrueTurn
    inbound_turn: TrueTurn | None
    abeam_s: float | None
    outbound_heading_deg: float
    timed_outbound_s: float | None
    inbound_s: float | None
    inbound_heading_deg: float | None
    rollout_cross_nm: float | None
    fix_miss_nm: float
    wind_kt: tuple[float, float]
    tas_kt: float
    disturbed: bool
    """A full circle was flown in one of its legs: times of legs then mean something else."""


@dataclass(frozen=True)
class TrueHold:
    """One hold."""

    fix_lat_deg: float
    fix_lon_deg: float
    fix_m: tuple[float, float]
    course_deg: float
    side: int
    entry: str
    arrival_heading_deg: float
    fix_s: float
    end_s: float
    circuits: tuple[TrueCircuit, ...]
    wind_kt: tuple[float, float]
    tas_kt: float
    wind_changes: bool

    @property
    def turns(self) -> str:
        """Return which hand the hold is of."""
        return "right" if self.side > 0 else "left"


@dataclass(frozen=True)
class Laps:
    """What the pilot's diary says of one hold: when each thing was meant to begin. Seconds."""

    fix_m: tuple[float, float]
    course_deg: float
    side: int
    entry: str
    entry_fix_s: float
    circuits: Sequence[Lap]


@dataclass(frozen=True)
class Lap:
    """One circuit as the diary has it; None for what was not flown."""

    outbound_turn_s: float
    outbound_leg_s: float
    inbound_turn_s: float | None
    inbound_leg_s: float | None
    fix_s: float | None
    over_s: float
    disturbed: bool = False


def between(series: Series, start_s: float, end_s: float) -> slice:
    """Return the slice of steps within a span."""
    first, last = np.searchsorted(series["time_s"], [start_s - 1e-9, end_s + 1e-9])
    return slice(int(first), int(last))


def mean(series: Series, name: str, start_s: float, end_s: float) -> float:
    """Return the mean of one series over a span."""
    span = series[name][between(series, start_s, end_s)]
    # A leg that was never flown has no mean.
    return float(span.mean()) if span.size else float("nan")


def true_turn(series: Series, begun_s: float, ended_s: float) -> TrueTurn:
    """Find a turn that the pilot began and ended about these times."""
    if ended_s - begun_s < SHORTEST_TURN_S:
        # Who comes to the fix on the outbound heading already has nothing to turn.
        return TrueTurn(begun_s, ended_s, begun_s, ended_s, 0.0, 0.0, 0.0, merged=False)
    time_s, bank = series["time_s"], series["bank_deg"]
    span = between(series, begun_s, ended_s)
    side = float(np.sign(np.median(bank[span])))
    core = between(series, begun_s + 0.25 * (ended_s - begun_s), ended_s - 0.25 * (ended_s - begun_s))
    usual = float(np.median(side * bank[core]))
    over = span.start + np.flatnonzero(side * bank[span] >= 0.5 * usual)
    start = _crossing(time_s, side * bank, int(over[0]), -1)
    end = _crossing(time_s, side * bank, int(over[-1]), 1)
    held = span.start + np.flatnonzero(side * bank[span] >= 0.9 * usual)
    a, b = float(time_s[held[0]]), float(time_s[held[-1]])
    heading = series["heading_deg"]
    change = np.interp(end, time_s, heading) - np.interp(start, time_s, heading)
    return TrueTurn(
        start,
        end,
        a,
        b,
        mean(series, "bank_deg", a, b),
        side * float((side * bank[span]).max()),
        float(change),
        merged=start < begun_s - 0.5,
    )


def _crossing(time_s: FloatArray, bank: FloatArray, index: int, step: int) -> float:
    """Walk from inside a turn outwards to where the bank passes two degrees."""
    while 0 <= index + step < bank.size and bank[index + step] > LEVEL_DEG:
        index += step
    beyond = index + step
    if not 0 <= beyond < bank.size:
        return float(time_s[index])
    share = (bank[index] - LEVEL_DEG) / (bank[index] - bank[beyond])
    return float(time_s[index] + share * (time_s[beyond] - time_s[index]))


def axes(series: Series, fix_m: tuple[float, float], course_deg: float) -> tuple[FloatArray, FloatArray]:
    """Return metres along the course past the fix and metres right of it."""
    east, north = series["east_m"] - fix_m[0], series["north_m"] - fix_m[1]
    toward = np.radians(course_deg)
    return (
        east * np.sin(toward) + north * np.cos(toward),
        east * np.cos(toward) - north * np.sin(toward),
    )


def _passing(
    series: Series, along: FloatArray, across: FloatArray, start_s: float, end_s: float, sign: float
) -> float | None:
    span = between(series, start_s, end_s)
    a = sign * along[span]
    found = np.flatnonzero((a[:-1] < 0) & (a[1:] >= 0))
    if not found.size:
        return None
    i = int(found[np.argmin(np.hypot(along[span], across[span])[found])])
    time_s = series["time_s"][span]
    return float(time_s[i] + a[i] / (a[i] - a[i + 1]) * (time_s[i + 1] - time_s[i]))


def fix_passage(series: Series, along: FloatArray, across: FloatArray, around_s: float) -> float:
    """Find the passage of the fix within twenty-five seconds of a time."""
    crossed = _passing(series, along, across, around_s - 25.0, around_s + 25.0, 1.0)
    return closest(series, along, across, around_s) if crossed is None else crossed


def closest(series: Series, along: FloatArray, across: FloatArray, around_s: float) -> float:
    """Find the closest approach to the fix within twenty-five seconds of a time."""
    span = between(series, around_s - 25.0, around_s + 25.0)
    return float(series["time_s"][span][np.argmin(np.hypot(along[span], across[span]))])


def _mean_heading(series: Series, start_s: float, end_s: float) -> float:
    """Return a leg's mean heading through the air; the settling after the roll-out is left out."""
    settle = min(3.0, 0.2 * (end_s - start_s))
    return mean(series, "heading_deg", start_s + settle, end_s - settle) % 360.0


def _true_circuit(series: Series, laps: Laps, lap: Lap) -> TrueCircuit:
    along, across = axes(series, laps.fix_m, laps.course_deg)
    start = fix_passage(series, along, across, lap.over_s)
    out = true_turn(series, lap.outbound_turn_s, lap.outbound_leg_s)
    back = None
    if lap.inbound_turn_s is not None and lap.inbound_leg_s is not None:
        back = true_turn(series, lap.inbound_turn_s, lap.inbound_leg_s)
    leg_end = back.start_s if back else (lap.inbound_turn_s or lap.outbound_leg_s + 20.0)
    abeam = _passing(series, along, across, out.start_s + 8.0, leg_end, -1.0)
    complete = lap.fix_s is not None and back is not None
    end = fix_passage(series, along, across, lap.fix_s) if complete else leg_end
    # Who cuts a lap short may still be turning over the fix: there is no inbound leg then.
    flew_inbound = complete and back is not None and back.end_s < end
    clock = out.end_s if abeam is None else abeam
    whole = between(series, start, end)
    rollout = float(np.interp(back.end_s, series["time_s"], across)) / NM if back else None
    return TrueCircuit(
        start_s=start,
        end_s=end,
        complete=complete,
        outbound_turn=out,
        inbound_turn=back,
        abeam_s=abeam,
        outbound_heading_deg=_mean_heading(series, out.end_s, leg_end),
        timed_outbound_s=leg_end - clock if back else None,
        inbound_s=end - back.end_s if complete and back else None,
        inbound_heading_deg=_mean_heading(series, back.end_s, end) if flew_inbound and back else None,
        rollout_cross_nm=rollout if complete else None,
        fix_miss_nm=float(np.hypot(along, across)[between(series, end - 25.0, end + 25.0)].min()) / NM,
        wind_kt=(float(series["wind_east_kt"][whole].mean()), float(series["wind_north_kt"][whole].mean())),
        tas_kt=float(series["tas_kt"][whole].mean()),
        disturbed=lap.disturbed,
    )


def true_hold(series: Series, laps: Laps, place: tuple[float, float], *, wind_changes: bool) -> TrueHold:
    """Read one hold off the series; ``place`` is the fix's latitude and longitude."""
    circuits = tuple(_true_circuit(series, laps, lap) for lap in laps.circuits)
    along, across = axes(series, laps.fix_m, laps.course_deg)
    fix = closest(series, along, across, laps.entry_fix_s)
    if laps.entry == "direct":
        fix = circuits[0].start_s
    end = circuits[-1].end_s
    before = min(fix, circuits[0].outbound_turn.start_s if laps.entry == "direct" else laps.entry_fix_s) - 4.0
    return TrueHold(
        fix_lat_deg=place[0],
        fix_lon_deg=place[1],
        fix_m=laps.fix_m,
        course_deg=laps.course_deg % 360.0,
        side=laps.side,
        entry=laps.entry,
        arrival_heading_deg=mean(series, "heading_deg", before - 3.0, before) % 360.0,
        fix_s=fix,
        end_s=end,
        circuits=circuits,
        wind_kt=(mean(series, "wind_east_kt", fix, end), mean(series, "wind_north_kt", fix, end)),
        tas_kt=mean(series, "tas_kt", fix, end),
        wind_changes=wind_changes,
    )


def true_ground_kt(series: Series, span: slice) -> tuple[FloatArray, FloatArray]:
    """Return the true movement over the ground within a slice, knots, from the positions themselves."""
    time_s = series["time_s"]
    return (
        np.gradient(series["east_m"], time_s)[span] / MPS,
        np.gradient(series["north_m"], time_s)[span] / MPS,
    )
