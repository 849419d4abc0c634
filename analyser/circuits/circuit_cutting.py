"""Laps cut into circuits at their instants, once fix and course are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.circuits.flown import Circuit, Leg, Turn
from analyser.circuits.frame import HoldFrame, crossing, nearest_passage
from analyser.circuits.thresholds import CUTTING, RACETRACK
from analyser.circuits.turn_detection import mean_direction
from analyser.circuits.turn_matching import LapTurns
from analyser.earth.angles import wrap180, wrap360
from analyser.motion.estimate import Measured


def cut_circuits(
    measured: Measured,
    frame: HoldFrame,
    laps: list[LapTurns],
    passages: list[float | None],
    course_deg: float,
) -> list[Circuit]:
    """Cut laps into circuits.

    Parameters
    ----------
    measured : Measured
    frame : HoldFrame
        The hold's axes, fix at the origin.
    laps : list of LapTurns
        In time order.
    passages : list of float or None
        Instants of passing the fix, before each lap and after the last; None where that was never flown.
    course_deg : float
        Inbound course.
    """
    return [
        _circuit(measured, frame, number, lap, passages[number - 1], passages[number], course_deg)
        for number, lap in enumerate(laps, start=1)
    ]


def passages_of_turns(frame: HoldFrame, laps: list[LapTurns]) -> list[float | None]:
    """Find the passage before each lap, and after the last, by their turns; None where that was never flown."""
    found: list[float | None] = []
    for before, lap in zip([None, *laps[:-1]], laps, strict=True):
        earliest = before.inbound.end_s if before and before.inbound else lap.outbound.start_s - 60.0
        latest = max(
            lap.outbound.start_s + CUTTING.late_look_s, 0.5 * (lap.outbound.start_s + lap.outbound.end_s)
        )
        found.append(passage(frame, earliest, latest, lap.outbound.start_s))
    last = laps[-1].inbound
    if last is None:
        return [*found, None]
    latest = min(last.end_s + CUTTING.last_look_s, float(frame.time_s[-1]))
    instant, distance = nearest_passage(frame, last.end_s, latest)
    crossed = crossing(frame, last.end_s, latest, inbound=True)
    if crossed is not None and abs(crossed - instant) < 30.0:
        instant = crossed
    # The log may end, or the pilot leave, before the fix: then the nearest point is the end of the log or leg.
    broken = instant >= latest - 1.0 and distance > 0.3
    return [*found, None if broken else instant]


def passage_near(frame: HoldFrame, around_s: float) -> float:
    """Return the instant of a passage that is known roughly: the crossing of the perpendicular, or the nearest."""
    crossed = crossing(frame, around_s - CUTTING.passing_s, around_s + CUTTING.passing_s, inbound=True)
    if crossed is not None:
        return crossed
    instant, _ = nearest_passage(frame, around_s - CUTTING.passing_s, around_s + CUTTING.passing_s)
    return instant if np.isfinite(instant) else around_s


def passage(frame: HoldFrame, earliest_s: float, latest_s: float, around_s: float) -> float:
    """Return the instant of passing the fix before a turn.

    The crossing of the perpendicular through the fix, as a needle shows it; where the aircraft turned before
    it ever crossed, the closest approach.
    """
    instant, _ = nearest_passage(frame, earliest_s, latest_s)
    crossed = crossing(frame, earliest_s, latest_s, inbound=True)
    if crossed is not None and abs(crossed - instant) < 20.0:
        return crossed
    return instant if np.isfinite(instant) else around_s


def _circuit(
    measured: Measured,
    frame: HoldFrame,
    number: int,
    lap: LapTurns,
    start_s: float | None,
    end_s: float | None,
    course_deg: float,
) -> Circuit:
    begun = lap.outbound.start_s if start_s is None else start_s
    lap = LapTurns(_from_fix(lap.outbound, begun), lap.inbound)
    if measured.chorded:
        lap = LapTurns(_doubted(lap.outbound), _doubted(lap.inbound) if lap.inbound else None)
    outbound_leg, inbound_leg, last = _legs(measured, lap, end_s, course_deg)
    finished = last if end_s is None else end_s
    wind = measured.wind.mean_wind(begun, finished)
    tas = measured.mean_tas(begun, finished)
    latest = lap.inbound.start_s if lap.inbound else finished
    return Circuit(
        number=number,
        start_s=begun,
        end_s=finished,
        complete=end_s is not None,
        outbound_turn=lap.outbound,
        outbound_leg=outbound_leg,
        abeam_s=crossing(frame, lap.outbound.start_s + 8.0, latest, inbound=False),
        inbound_turn=lap.inbound,
        inbound_leg=inbound_leg,
        wind_east_kt=wind[0],
        wind_north_kt=wind[1],
        wind_sd_kt=wind[2],
        tas_kt=tas[0],
        tas_sd_kt=tas[1],
    )


def _from_fix(turn: Turn, fix_s: float) -> Turn:
    """Begin an outbound turn at the fix where the aircraft was still turning to meet the course when it passed."""
    if (
        fix_s - turn.start_s < CUTTING.still_turning_s
        or abs(turn.heading_change_deg) < RACETRACK.merged_turn_deg
    ):
        return turn
    share = (turn.end_s - fix_s) / turn.duration_s
    return replace(
        turn,
        start_s=fix_s,
        heading_change_deg=turn.heading_change_deg * share,
        established_start_s=max(turn.established_start_s, fix_s),
    )


def _doubted(turn: Turn) -> Turn:
    """Doubt the ends of a turn of which the chords show less than half a circle: the rest was turned unseen."""
    lacking_deg = max(CUTTING.least_half_circle_deg - abs(turn.heading_change_deg), 0.0)
    lacking_s = lacking_deg / max(abs(turn.rate_mean_dps), CUTTING.slowest_turn_dps)
    return replace(
        turn,
        start_sd_s=float(np.hypot(turn.start_sd_s, lacking_s)),
        end_sd_s=float(np.hypot(turn.end_sd_s, lacking_s)),
    )


def _legs(
    measured: Measured, lap: LapTurns, end_s: float | None, course_deg: float
) -> tuple[Leg, Leg | None, float]:
    """Return both legs and where the lap's flying ends if it never came back to the fix."""
    if lap.inbound is None:
        until = _leg_end(measured, lap.outbound, wrap360(course_deg + 180.0))
        return leg(measured, lap.outbound.end_s, until), None, until
    outbound = leg(measured, lap.outbound.end_s, lap.inbound.start_s)
    until = _leg_end(measured, lap.inbound, course_deg) if end_s is None else end_s
    if until <= lap.inbound.end_s + 1.0:
        return outbound, None, lap.inbound.end_s
    return outbound, leg(measured, lap.inbound.end_s, until), until


def _leg_end(measured: Measured, turn: Turn, course_deg: float) -> float:
    """Follow a leg that was broken off to where the aircraft no longer flew it."""
    span = measured.motion.span(turn.end_s, turn.end_s + CUTTING.broken_leg_s)
    off = np.abs(wrap180(measured.motion.track_deg[span] - course_deg)) > 60.0
    time_s = measured.motion.time_s[span]
    if time_s.size == 0:
        return turn.end_s
    return float(time_s[np.argmax(off)]) if off.any() else float(time_s[-1])


def leg(measured: Measured, start_s: float, end_s: float) -> Leg:
    """Measure a leg.

    Parameters
    ----------
    measured : Measured
    start_s, end_s : float
        Wings level … wings leaving level, or the fix.

    Returns
    -------
    Leg
    """
    motion = measured.motion
    settle = min(CUTTING.settle_s, 0.2 * (end_s - start_s))
    inner = motion.span(start_s + settle, end_s - settle)
    heading = mean_direction(motion.heading_deg[inner])
    if not np.isfinite(heading):
        heading = motion.at("heading_deg", 0.5 * (start_s + end_s))
    east = motion.at("east_nm", end_s) - motion.at("east_nm", start_s)
    north = motion.at("north_nm", end_s) - motion.at("north_nm", start_s)
    _, _, wind_sd = measured.wind.mean_wind(start_s, end_s)
    tas = max(measured.mean_tas(start_s, end_s)[0], 30.0) if inner.stop > inner.start else 100.0
    return Leg(
        start_s=start_s,
        end_s=end_s,
        heading_deg=heading,
        heading_sd_deg=float(np.hypot(np.degrees(wind_sd / tas), 0.3)),
        track_deg=float(np.degrees(np.arctan2(east, north)) % 360.0),
    )
