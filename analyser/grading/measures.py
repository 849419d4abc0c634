"""What was measured on one circuit: times, headings, distances off, before any judgement."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.lap import Lap


@dataclass(frozen=True)
class Measures:
    """Measured on one circuit; None where it was not flown or not recorded.

    Attributes
    ----------
    timed_s, timed_sd_s : float or None
        Outbound time by the clock of the circuit's terms; from abeam, where a length ends the leg.
    timed_wings_s : float or None
        Outbound time from wings level.
    start_delay_s : float or None
        From passing the fix to leaving level for the outbound turn; negative where the turn came first.
    turn_in_nm : float or None
        How far out the inbound turn began, as a distance leg is read: along the course, or by its station.
    beyond_radial_deg : float or None
        How far beyond the limiting radial that was, negative before it; None where there is none.
    outbound_correction_deg : float or None
        Outbound heading minus the reciprocal of the inbound course, positive right.
    inbound_correction_deg : float or None
        Mean inbound heading minus the course, positive right.
    inbound_duration_s, inbound_duration_sd_s : float or None
        Wings level on the inbound leg to the fix.
    rollout_along_nm, rollout_cross_track_nm : float or None
        Where the inbound turn ended: from the fix, positive beyond it; positive right of the course.
    rollout_heading_deg : float or None
        Air heading there.
    cross_track_rms_nm, cross_track_max_nm : float or None
        On the inbound leg; the maximum keeps its sign.
    off_course_rms_deg, off_course_max_deg : float or None
        The same as seen from the fix, without the last stretch before it.
    deflection_rms, deflection_max : float or None
        Of a course needle, as a fraction of full scale.
    fix_cross_track_nm : float or None
        On passing abeam the fix at the end.
    fix_miss_nm : float or None
        Distance from the fix at the end.
    total_s : float or None
        Fix to fix.
    """

    timed_s: float | None
    timed_sd_s: float | None
    timed_wings_s: float | None
    start_delay_s: float | None
    turn_in_nm: float | None
    beyond_radial_deg: float | None
    outbound_correction_deg: float | None
    inbound_correction_deg: float | None
    inbound_duration_s: float | None
    inbound_duration_sd_s: float | None
    rollout_along_nm: float | None
    rollout_cross_track_nm: float | None
    rollout_heading_deg: float | None
    cross_track_rms_nm: float | None
    cross_track_max_nm: float | None
    off_course_rms_deg: float | None
    off_course_max_deg: float | None
    deflection_rms: float | None
    deflection_max: float | None
    fix_cross_track_nm: float | None
    fix_miss_nm: float | None
    total_s: float | None


def measure(lap: Lap) -> Measures:
    """Measure one circuit."""
    circuit, hold = lap.circuit, lap.flown.hold
    outbound, inbound = circuit.outbound_leg, circuit.inbound_leg
    course = hold.inbound_course_true_deg
    turn = circuit.outbound_turn
    end = lap.frame.at(circuit.end_s) if circuit.complete else None
    return Measures(
        **_outbound_times(lap),
        start_delay_s=None if turn is None else turn.start_s - circuit.start_s,
        **_turn_in(lap),
        outbound_correction_deg=None if outbound is None else wrap180(outbound.heading_deg - course - 180.0),
        inbound_correction_deg=None if inbound is None else wrap180(inbound.heading_deg - course),
        **_rollout(lap),
        **_inbound(lap),
        fix_cross_track_nm=None if end is None else end[1],
        fix_miss_nm=None if end is None else math.hypot(*end),
        total_s=circuit.end_s - circuit.start_s if circuit.complete else None,
    )


def _outbound_times(lap: Lap) -> dict[str, Any]:
    circuit = lap.circuit
    turn, begun = circuit.inbound_turn, circuit.outbound_turn
    if turn is None or begun is None or circuit.outbound_leg is None:
        return dict.fromkeys(("timed_s", "timed_sd_s", "timed_wings_s"))
    from_wings_s = turn.start_s - begun.end_s - circuit.circling_s(begun.end_s, turn.start_s)
    if lap.terms.clock == "wings level" or circuit.abeam_s is None:
        sd = math.hypot(turn.start_sd_s, begun.end_sd_s)
        return {"timed_s": from_wings_s, "timed_sd_s": sd, "timed_wings_s": from_wings_s}
    started = max(circuit.abeam_s, circuit.start_s)
    return {
        "timed_s": turn.start_s - started - circuit.circling_s(started, turn.start_s),
        "timed_sd_s": math.hypot(turn.start_sd_s, abeam_sd_s(lap, started)),
        "timed_wings_s": from_wings_s,
    }


def abeam_sd_s(lap: Lap, passed_s: float) -> float:
    """Return sigma of the moment of passing abeam, seconds.

    An inferred fix shifts it, and so does an inferred course: by its turn about the fix.
    """
    speed = max(float(np.hypot(*_velocity_kt(lap, passed_s))), 1.0)
    aside_nm = abs(lap.frame.at(passed_s)[1]) * math.radians(lap.flown.course_sd_deg or 0.0)
    return 3600.0 * math.hypot(lap.flown.fix_sd_nm or 0.0, aside_nm) / speed


def _turn_in(lap: Lap) -> dict[str, Any]:
    turn, hold = lap.circuit.inbound_turn, lap.flown.hold
    if turn is None or lap.circuit.outbound_leg is None:
        return dict.fromkeys(("turn_in_nm", "beyond_radial_deg"))
    along, cross = lap.frame.at(turn.start_s)
    return {
        "turn_in_nm": -along if hold.leg is None else hold.leg.out_nm(along, cross),
        "beyond_radial_deg": hold.beyond_radial_deg(along, cross),
    }


def _velocity_kt(lap: Lap, time_s: float) -> tuple[float, float]:
    motion = lap.flown.motion
    return motion.at("ground_east_kt", time_s), motion.at("ground_north_kt", time_s)


def _rollout(lap: Lap) -> dict[str, Any]:
    turn = lap.circuit.inbound_turn
    # Where the turn may as well have been the outbound one, nothing was rolled out on.
    if turn is None or lap.flown.other_end is not None:
        return dict.fromkeys(("rollout_along_nm", "rollout_cross_track_nm", "rollout_heading_deg"))
    along, cross = lap.frame.at(turn.end_s)
    heading = lap.flown.motion.at("heading_deg", turn.end_s)
    return {"rollout_along_nm": along, "rollout_cross_track_nm": cross, "rollout_heading_deg": heading}


_INBOUND = (
    "inbound_duration_s",
    "inbound_duration_sd_s",
    "cross_track_rms_nm",
    "cross_track_max_nm",
    "off_course_rms_deg",
    "off_course_max_deg",
    "deflection_rms",
    "deflection_max",
)


def _inbound(lap: Lap) -> dict[str, Any]:
    circuit, leg, turn = lap.circuit, lap.circuit.inbound_leg, lap.circuit.inbound_turn
    found: dict[str, Any] = dict.fromkeys(_INBOUND)
    if leg is None or turn is None:
        return found
    if circuit.complete:
        speed = max(float(np.hypot(*_velocity_kt(lap, circuit.end_s))), 1.0)
        fix_sd_s = 3600.0 * (lap.flown.fix_sd_nm or 0.0) / speed
        found["inbound_duration_s"] = (
            circuit.end_s - turn.end_s - circuit.circling_s(turn.end_s, circuit.end_s)
        )
        found["inbound_duration_sd_s"] = math.hypot(turn.end_sd_s, fix_sd_s)
    span = lap.flown.motion.span(leg.start_s, leg.end_s)
    seen = ~lap.flown.motion.in_hole[span] & ~circuit.circled(lap.flown.motion.time_s[span])
    along, cross = lap.frame.along_nm[span][seen], lap.frame.cross_nm[span][seen]
    if cross.size == 0:
        return found
    found["cross_track_rms_nm"] = _rms(cross)
    found["cross_track_max_nm"] = _largest(cross)
    far = along < -lap.scoring.track.exclude_within_nm
    if not far.any():
        return found
    off = np.degrees(np.arctan2(cross[far], -along[far]))
    found["off_course_rms_deg"], found["off_course_max_deg"] = _rms(off), _largest(off)
    standard = lap.standard
    needle = (
        [standard.vor_deflection(float(one)) for one in off]
        if lap.terms.needle
        else [standard.gps_deflection(float(one)) for one in cross]
    )
    found["deflection_rms"], found["deflection_max"] = _rms(np.array(needle)), _largest(np.array(needle))
    return found


def _rms(values: np.typing.NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _largest(values: np.typing.NDArray[np.float64]) -> float:
    return float(values[np.argmax(np.abs(values))])
