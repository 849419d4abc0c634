"""One circuit with everything that judging it needs: the motion in the hold's axes, the exact circuit, its measures."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold, Leg
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import LAP
from analyser.grading.terms import CUT_SHORT, Clock, HoldCase, Terms, inbound_flown_s, outbound_flown_s
from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.rules.regime import Regime


@dataclass(frozen=True)
class Ideal:
    """What should have been flown, in the wind that blew."""

    #: Where ``closes`` is False there is none and nothing may be read from it; where only ``exists`` is False it is
    #: the shortest that can be flown.
    circuit: ExactCircuit
    #: Sigma from the wind, the airspeed and the course; infinite where neighbouring winds have no circuit.
    outbound_heading_sd_deg: float = math.inf
    outbound_timed_sd_s: float = math.inf
    outbound_time_sd_s: float = math.inf
    inbound_time_sd_s: float = math.inf

    def outbound_s(self, clock: Clock) -> tuple[float, float]:
        """Return the outbound time by a clock, and its sigma, seconds."""
        if clock == "abeam":
            return self.circuit.outbound_timed_s, self.outbound_timed_sd_s
        return self.circuit.outbound_time_s, self.outbound_time_sd_s


def ideal_for(
    hold: Hold, regime: Regime, circuit: Circuit, altitude_ft: float, course_sd_deg: float | None = None
) -> Ideal:
    """Solve the exact circuit for a flown one, in its own mean wind at its own mean airspeed.

    Leg time and speed limit are those of the circuit's altitude; the course has a sigma where it was inferred.
    """

    def solve(
        east_kt: float = 0.0, north_kt: float = 0.0, tas_kt: float = 0.0, course_deg: float = 0.0
    ) -> ExactCircuit:
        course = hold.inbound_course_true_deg + course_deg
        return ideal_circuit(
            replace(hold, inbound_course_true_deg=course),
            regime,
            tas_kt=max(circuit.tas_kt + tas_kt, 1.0),
            altitude_ft=altitude_ft,
            wind_east_kt=circuit.wind_east_kt + east_kt,
            wind_north_kt=circuit.wind_north_kt + north_kt,
        )

    known = (circuit.tas_kt, circuit.wind_east_kt, circuit.wind_north_kt)
    if not all(map(math.isfinite, known)) or circuit.tas_kt <= 0.0:
        return _unknown(hold, regime, altitude_ft, "wind or airspeed are not known for this circuit")
    if doubt := course_doubt(course_sd_deg):
        return _unknown(hold, regime, altitude_ft, doubt)
    best = solve()
    if not (best.closes and math.isfinite(circuit.wind_sd_kt) and math.isfinite(circuit.tas_sd_kt)):
        return Ideal(best)
    # One sigma of each input at a time; what they move adds up by squares.
    moved = [
        solve(east_kt=circuit.wind_sd_kt),
        solve(north_kt=circuit.wind_sd_kt),
        solve(tas_kt=circuit.tas_sd_kt),
        solve(course_deg=course_sd_deg or 0.0),
    ]
    return Ideal(
        best,
        _spread([wrap180(one.outbound_heading_deg - best.outbound_heading_deg) for one in moved]),
        _spread([one.outbound_timed_s - best.outbound_timed_s for one in moved]),
        _spread([one.outbound_time_s - best.outbound_time_s for one in moved]),
        _spread([one.inbound_time_s - best.inbound_time_s for one in moved]),
    )


def course_doubt(course_sd_deg: float | None, known_deg: float = LAP.course_known_deg) -> str:
    """Say why nothing can be told that needs the course to within ``known_deg``; empty where it can.

    The sigma is None of a course that was given, and a right angle where either end of the racetrack may be the fix.
    """
    if course_sd_deg is None or 2.0 * course_sd_deg <= known_deg:
        return ""
    inferred = f"the course is inferred to ±{2.0 * course_sd_deg:.0f}° only"
    either_end = "which end of the racetrack is the fix cannot be told"
    return f"{either_end if course_sd_deg >= LAP.either_way_deg else inferred}; a hold file settles it"


def _unknown(hold: Hold, regime: Regime, altitude_ft: float, why_not: str) -> Ideal:
    """Return an ideal that says that nobody knows what was right, and why."""
    # A wind that nobody can fly in gives the empty circuit; only its reason is another.
    nothing = ideal_circuit(
        hold, regime, tas_kt=1.0, altitude_ft=altitude_ft, wind_east_kt=1e3, wind_north_kt=1e3
    )
    return Ideal(replace(nothing, closes=False, why_not=why_not))


def _spread(moved: list[float]) -> float:
    return math.hypot(*moved) if all(map(math.isfinite, moved)) else math.inf


@dataclass(frozen=True)
class Lap(HoldCase):
    """One circuit ready to be judged."""

    circuit: Circuit
    #: The exact circuit for this circuit's own wind and airspeed.
    ideal: Ideal
    #: What it is judged by.
    terms: Terms
    #: True for the first circuit of the hold, the one that measures.
    first: bool
    #: True where it was cut short or drawn out to leave on time.
    cut_short: bool = False

    @property
    def turned_before(self) -> tuple[float, float] | None:
        """An outbound turn that led away before the fix was passed: seconds from passing it, negative, and where.

        That is how far right of the course it would have been passed, nautical miles; None where it was passed.
        """
        turn, passed_s = self.circuit.outbound_turn, self.circuit.start_s
        if turn is None or turn.start_s >= passed_s:
            return None
        turning = abs(self.flown.motion.at("bank_deg", passed_s)) > LAP.turning_deg
        if not turning and self.frame.at(passed_s)[0] > -LAP.passed_nm:
            return None
        along_nm, cross_nm = self.frame.at(turn.start_s)
        return along_nm * 3600.0 / self.ground_speed_kt(turn.start_s), cross_nm

    def ground_speed_kt(self, time_s: float) -> float:
        """Return the speed over the ground at an instant, never nought."""
        motion = self.flown.motion
        return max(
            float(np.hypot(motion.at("ground_east_kt", time_s), motion.at("ground_north_kt", time_s))), 1.0
        )


@dataclass(frozen=True)
class Measures:
    """Measured on one circuit; None where it was not flown or not recorded."""

    #: Outbound time by the clock of the circuit's terms; from abeam, where a length ends the leg.
    timed_s: float | None = None
    timed_sd_s: float | None = None
    #: Outbound time from wings level.
    timed_wings_s: float | None = None
    #: From passing the fix to leaving level for the outbound turn; negative where the turn came first.
    start_delay_s: float | None = None
    #: How far out the inbound turn began, as a distance leg is read: along the course, or by its station.
    turn_in_nm: float | None = None
    #: How far beyond the limiting radial that was, negative before it; None where there is none.
    beyond_radial_deg: float | None = None
    #: Outbound heading minus the reciprocal of the inbound course, positive right.
    outbound_correction_deg: float | None = None
    #: Mean inbound heading minus the course, positive right.
    inbound_correction_deg: float | None = None
    #: Wings level on the inbound leg to the fix.
    inbound_duration_s: float | None = None
    inbound_duration_sd_s: float | None = None
    #: Where the inbound turn ended: from the fix, positive beyond it; positive right of the course.
    rollout_along_nm: float | None = None
    rollout_cross_track_nm: float | None = None
    #: Its sigma; 0 where fix and course were given.
    rollout_cross_track_sd_nm: float | None = None
    #: Air heading there.
    rollout_heading_deg: float | None = None
    #: On the inbound leg; the maximum keeps its sign.
    cross_track_rms_nm: float | None = None
    cross_track_max_nm: float | None = None
    #: The same as seen from the fix, without the last stretch before it.
    off_course_rms_deg: float | None = None
    off_course_max_deg: float | None = None
    #: Of a course needle, as a fraction of full scale.
    deflection_rms: float | None = None
    deflection_max: float | None = None
    #: On passing abeam the fix at the end.
    fix_cross_track_nm: float | None = None
    #: Distance from the fix on passing abeam it at the end.
    fix_miss_nm: float | None = None
    #: Fix to fix.
    total_s: float | None = None


def has_leg(circuit: Circuit, ideal: Ideal, terms: Terms) -> bool:
    """Tell whether an outbound leg was flown, or hardly any was asked for: by the wind, or to leave on time.

    Where one turn was flown into the next, no wind correction or track was.
    """
    leg, before, after = circuit.outbound_leg, circuit.outbound_turn, circuit.inbound_turn
    if after is None or leg is None:
        return True
    # Where a hole of the log hides where a turn ended, it may hide a leg.
    hidden_s = math.hypot(before.end_sd_s if before else 0.0, after.start_sd_s)
    if max(leg.duration_s, hidden_s) >= LAP.least_leg_s:
        return True
    if terms.untimed == CUT_SHORT:
        return True
    exact = ideal.circuit
    return exact.closes and (not exact.exists or exact.outbound_time_s < 2.0 * LAP.least_leg_s)


def passed_turning(flown: FlownHold, circuit: Circuit) -> bool:
    """Tell whether the fix was passed while still turning inbound: the next turn is then neither late nor early."""
    before = next((one for one in flown.circuits if one.number == circuit.number - 1), None)
    turn = None if before is None else before.inbound_turn
    return turn is not None and circuit.start_s < turn.end_s


def _correction_deg(leg: Leg | None, toward_deg: float) -> float | None:
    """Return how far right of a course a leg's heading lay; None where it held none."""
    return None if leg is None or leg.duration_s < LAP.least_leg_s else wrap180(leg.heading_deg - toward_deg)


def _start_delay_s(lap: Lap) -> float | None:
    """Return how long after the fix the outbound turn began; before it, by what the rest of the way would have taken.

    The turn leads away from the fix, which is passed later in it, or never.
    """
    if (before := lap.turned_before) is not None:
        return before[0]
    turn = lap.circuit.outbound_turn
    return None if turn is None else turn.start_s - lap.circuit.start_s


def measure(lap: Lap) -> Measures:
    """Measure one circuit."""
    circuit, hold = lap.circuit, lap.flown.hold
    outbound, inbound = circuit.outbound_leg, circuit.inbound_leg
    course = hold.inbound_course_true_deg
    end = lap.frame.at(circuit.end_s) if circuit.complete else None
    return Measures(
        **_outbound_times(lap),
        start_delay_s=_start_delay_s(lap),
        **_turn_in(lap),
        outbound_correction_deg=_correction_deg(outbound, course + 180.0),
        inbound_correction_deg=_correction_deg(inbound, course),
        **_rollout(lap),
        **_inbound(lap),
        fix_cross_track_nm=None if end is None else end[1],
        fix_miss_nm=None if end is None else math.hypot(*end),
        total_s=circuit.end_s - circuit.start_s if circuit.complete else None,
    )


def _outbound_times(lap: Lap) -> dict[str, Any]:
    circuit, clock = lap.circuit, lap.terms.clock
    turn, begun = circuit.inbound_turn, circuit.outbound_turn
    timed_s = outbound_flown_s(circuit, clock)
    if turn is None or begun is None or timed_s is None:
        return {}
    by_wings = clock == "wings level" or circuit.abeam_s is None
    since_sd_s = begun.end_sd_s if by_wings else abeam_sd_s(lap, max(circuit.abeam_s or 0.0, circuit.start_s))
    return {
        "timed_s": timed_s,
        "timed_sd_s": math.hypot(turn.start_sd_s, since_sd_s),
        "timed_wings_s": outbound_flown_s(circuit, "wings level"),
    }


def abeam_sd_s(lap: Lap, passed_s: float) -> float:
    """Return sigma of the moment of passing abeam, seconds.

    An inferred fix shifts it, and so does an inferred course: by its turn about the fix.
    """
    aside_nm = abs(lap.frame.at(passed_s)[1]) * math.radians(lap.flown.course_sd_deg or 0.0)
    return 3600.0 * math.hypot(lap.flown.fix_along_sd_nm, aside_nm) / lap.ground_speed_kt(passed_s)


def _turn_in(lap: Lap) -> dict[str, Any]:
    turn, hold = lap.circuit.inbound_turn, lap.flown.hold
    if turn is None or lap.circuit.outbound_leg is None:
        return {}
    along, cross = lap.frame.at(turn.start_s)
    return {
        "turn_in_nm": -along if hold.leg is None else hold.leg.out_nm(along, cross),
        "beyond_radial_deg": hold.beyond_radial_deg(along, cross),
    }


def _rollout(lap: Lap) -> dict[str, Any]:
    turn = lap.circuit.inbound_turn
    # Where the turn may as well have been the outbound one, nothing was rolled out on.
    if turn is None or lap.flown.other_end is not None:
        return {}
    along, cross = lap.frame.at(turn.end_s)
    turned_nm = along * math.radians(lap.flown.course_sd_deg or 0.0)
    return {
        "rollout_along_nm": along,
        "rollout_cross_track_nm": cross,
        "rollout_cross_track_sd_nm": math.hypot(lap.flown.fix_sd_nm or 0.0, turned_nm),
        "rollout_heading_deg": lap.flown.motion.at("heading_deg", turn.end_s),
    }


def _inbound(lap: Lap) -> dict[str, Any]:
    circuit, leg, turn = lap.circuit, lap.circuit.inbound_leg, lap.circuit.inbound_turn
    found: dict[str, Any] = {}
    if leg is None or turn is None:
        return found
    if circuit.complete:
        fix_sd_s = 3600.0 * lap.flown.fix_along_sd_nm / lap.ground_speed_kt(circuit.end_s)
        found["inbound_duration_s"] = inbound_flown_s(circuit)
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
