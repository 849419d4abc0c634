"""What one circuit is judged by: leg, clock, tolerances and limits, each decided here and nowhere else."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold
from analyser.circuits.frame import HoldFrame
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import LAP
from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit
from analyser.holds.ideal_circuit import leg_minutes
from analyser.rules.flight_test_standard import Standard
from analyser.rules.regime import Regime, SpeedLimit
from analyser.rules.scoring import Scoring

#: What the outbound leg is measured by: from abeam the fix, from wings level, or by its length.
Clock = Literal["abeam", "wings level", "length"]
#: Which leg is judged: the outbound time, the first outbound of a hold whose inbound is timed, the inbound time,
#: an outbound length, or none of them.
Timed = Literal["outbound", "first outbound", "inbound", "length", "not judged"]


#: Why nothing is held against a leg: fitted to a time to leave, flown to the other hand, or inferred.
CUT_SHORT = "cut short or drawn out to leave on time"
OTHER_HAND = "it was flown to the other hand than the hold's"
LEG_UNKNOWN = (
    "the legs were longer than the rules' time, and what was asked for was not given: a hold file settles it"
)


@dataclass(frozen=True)
class HoldCase:
    """One hold with what it is judged by."""

    #: As it is judged: to the hand that was flown.
    flown: FlownHold
    #: The whole motion along and across the inbound course.
    frame: HoldFrame
    regime: Regime
    standard: Standard
    #: The rule that points are given by.
    scoring: Scoring

    def how(self, name: str) -> str:
        """Say how a quantity was come by: "logged" or "derived"."""
        return self.flown.motion.obtained.get(name, "derived")

    def in_hole(self, start_s: float, end_s: float) -> bool:
        """Return whether too much of a span was not recorded for it to be judged."""
        inside = self.flown.motion.in_hole[self.flown.motion.span(start_s, end_s)]
        return bool(inside.size) and float(np.mean(inside)) > LAP.most_hole_share

    def series(self, name: str, start_s: float, end_s: float) -> Any:
        """Return the recorded part of one of the motion's series within a span."""
        return self.recorded(getattr(self.flown.motion, name), start_s, end_s)

    def recorded(self, series: Any, start_s: float, end_s: float) -> Any:
        """Return the recorded part of a series on the motion's grid within a span."""
        span = self.flown.motion.span(start_s, end_s)
        return series[span][~self.flown.motion.in_hole[span]]

    def median_altitude_ft(self, start_s: float, end_s: float) -> float | None:
        """Return the median altitude of a span; None where none is known."""
        altitude_ft = self.flown.motion.altitude_ft[self.flown.motion.span(start_s, end_s)]
        known = altitude_ft[np.isfinite(altitude_ft)]
        return float(np.median(known)) if known.size else None


@dataclass(frozen=True)
class Terms:
    """The terms of one circuit."""

    #: That leg time and speed limit are looked up for; NaN where it is not known.
    altitude_ft: float
    #: Leg time without wind; None on a leg limited by distance.
    minutes: float | None
    #: Where that is said.
    leg_source: str
    timed: Timed
    #: Why nothing is timed; empty where something is.
    untimed: str
    clock: Clock
    timing_tolerance_s: float
    timing_source: str
    #: Whether the inbound track is judged in degrees as seen from a radio aid. The log does not say what guided the
    #: pilot; a leg limited by distance is flown on a satellite navigator, whose needle shows miles.
    needle: bool
    limit: SpeedLimit
    limit_kias: float

    @property
    def still_air_s(self) -> float | None:
        """Leg time without wind, seconds; None on a leg limited by distance."""
        return None if self.minutes is None else 60.0 * self.minutes


def speed_limit_of(hold: Hold, regime: Regime, altitude_ft: float) -> tuple[SpeedLimit, float]:
    """Return the row of the speed table for a hold at an altitude, and the maximum holding speed, knots indicated."""
    asked = (altitude_ft, hold.category, hold.max_kias)
    return regime.speed_limit(*asked), regime.speed_limit_kias(*asked)


def terms_of(
    case: HoldCase,
    circuit: Circuit,
    exact: ExactCircuit,
    *,
    altitude_ft: float,
    first: bool,
    cut_short: bool,
    other_hand: bool = False,
) -> Terms:
    """Decide what a circuit is judged by, at an altitude by :func:`analyser.holds.ideal_circuit.rules_altitude_ft`.

    Where the inbound leg is timed, the outbound leg of the first is flown for the standard time, unless another one
    made the inbound leg good; where what was taken for the entry may have been the first, this may be the second.
    ``cut_short`` is one fitted to a time to leave, ``other_hand`` one begun to the other hand: in its wind another
    circuit was right. Legs longer than the rules' time, of an inferred leg, cannot be held against themselves.
    """
    hold, regime, standard = case.flown.hold, case.regime, case.standard
    minutes = leg_minutes(hold, regime, altitude_ft)
    met = circuit.abeam_s is not None and (not exact.closes or exact.abeam_after_s is not None)
    untimed = OTHER_HAND if other_hand else CUT_SHORT if cut_short else ""
    if not case.flown.leg_known:
        untimed = untimed or LEG_UNKNOWN
    if first and case.flown.entry_unsure and minutes is not None and regime.clock.fixes == "inbound":
        untimed = untimed or "whether this circuit was the first cannot be told"
    by_outbound = minutes is not None and (regime.clock.fixes == "outbound" or first)
    if by_outbound and not met and regime.clock.otherwise == "not judged":
        untimed = untimed or "abeam the fix was not met, where the clock starts"
    limit, limit_kias = speed_limit_of(hold, regime, altitude_ft)
    # Abeam only where both the flown and the exact circuit meet it, or they are not one clock.
    clock: Clock = "abeam" if met and regime.clock.starts != "wings level" else "wings level"
    timed: Timed = "outbound"
    tolerance = regime.allowances.timing_s, f"tolerance: {regime.allowances.source}"
    if standard.timing is not None:
        tolerance = standard.timing.tolerance_s, standard.timing.source
    if minutes is None:
        clock, timed = "length", "length"
    elif regime.clock.fixes != "outbound":
        # Who makes the first inbound leg good by another time has corrected for the wind at once, as later legs must.
        standard_time = first and not _made_good(circuit, exact, clock, 60.0 * minutes, tolerance[0])
        timed = "first outbound" if standard_time else "inbound"
    return Terms(
        altitude_ft,
        minutes,
        "charted, as the hold file gives it" if hold.leg is not None else regime.leg_step(altitude_ft).source,
        "not judged" if untimed else timed,
        untimed,
        clock,
        *tolerance,
        needle=minutes is not None,
        limit=limit,
        limit_kias=limit_kias,
    )


def outbound_flown_s(circuit: Circuit, clock: Clock) -> float | None:
    """Return the outbound time by a clock, from abeam where a length ends the leg; None where no turn ended it."""
    begun, turn = circuit.outbound_turn, circuit.inbound_turn
    if turn is None or begun is None or circuit.outbound_leg is None:
        return None
    by_wings = clock == "wings level" or circuit.abeam_s is None
    since_s = begun.end_s if by_wings else max(circuit.abeam_s or 0.0, circuit.start_s)
    return turn.start_s - since_s - circuit.circling_s(since_s, turn.start_s)


def inbound_flown_s(circuit: Circuit) -> float | None:
    """Return the time from wings level to the fix; None where it was not reached."""
    turn = circuit.inbound_turn
    if turn is None or not circuit.complete:
        return None
    return circuit.end_s - turn.end_s - circuit.circling_s(turn.end_s, circuit.end_s)


def _made_good(
    circuit: Circuit, exact: ExactCircuit, clock: Clock, standard_s: float, tolerance_s: float
) -> bool:
    """Tell whether the inbound time was made good by an outbound time that was not the standard one."""
    out_s, in_s = outbound_flown_s(circuit, clock), inbound_flown_s(circuit)
    if out_s is None or in_s is None or circuit.inbound_leg is None or not exact.closes:
        return False
    return abs(out_s - standard_s) > tolerance_s >= abs(in_s - exact.inbound_time_s)
