"""The error budget: what each fault of a circuit cost at the roll-out and in inbound time.

How it is reckoned. Eight decisions of the pilot (:mod:`decisions`) give the roll-out point in the mean wind at
the mean airspeed; the exact circuit is the same eight decisions taken rightly. What one decision cost is how
far the roll-out moves when it is put right, averaged over all orders in which the eight could be put right.
So the shares add up exactly, whichever faults go together, and two pilots with the same faults get the same
shares. What no decision explains is found by replaying the measured headings, airspeed and wind
(:mod:`replay`): unsteady flying, airspeed that wandered, wind that changed. Last comes the inbound leg: its
time is too long or short because the roll-out lay elsewhere along the course, because flying off the
cross-track error takes a detour (both belong to what moved the roll-out), and for the rest by itself.

References
----------
L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II, 1953 (the averaging
over orders; from memory).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Collection
from dataclasses import dataclass, fields, replace
from itertools import product

from analyser.circuits.flown import Turn
from analyser.grading.axes import Axes
from analyser.grading.decisions import DECISIONS, Air, Clock, Decisions, FlownDecisions
from analyser.grading.lap import Lap
from analyser.grading.replay import Instants, Replay

#: Causes that are no decision, in the order in which they are found.
FOUND = ("unsteadiness", "airspeed", "wind_change", "measurement")
CAUSES = (*DECISIONS, *FOUND, "inbound_leg")

#: A hold's turn is never shorter than this, nor slower.
_LEAST_TURN_DEG = 30.0
_LEAST_RATE_DPS = 0.3
#: A course is met again at this angle, as is taught [C]; what that costs in time belongs to whoever caused it.
INTERCEPT_DEG = 30.0


@dataclass(frozen=True)
class Cost:
    """What one cause cost.

    Attributes
    ----------
    cause : str
        One of :data:`CAUSES`. ``"measurement"`` is by how much the log's positions and velocities disagree;
        ``"inbound_leg"`` is what happened after the roll-out.
    cross_track_nm, along_track_nm : float
        Share of the roll-out error: positive right of the inbound course, and positive too far inbound.
    time_s : float or None
        Share of the inbound time's error, positive too long; None where the fix was not reached.
    end_cross_track_nm, end_along_track_nm : float or None
        Share of the error at the end of the circuit.
    sd_nm : float
        How sure the share is: how far the roll-out moves by one sigma of what the cause is measured by.
    """

    cause: str
    cross_track_nm: float
    along_track_nm: float
    time_s: float | None
    end_cross_track_nm: float | None
    end_along_track_nm: float | None
    sd_nm: float

    @property
    def size_nm(self) -> float:
        """How far the roll-out was moved."""
        return math.hypot(self.cross_track_nm, self.along_track_nm)


@dataclass(frozen=True)
class Budget:
    """The budget of one circuit.

    Attributes
    ----------
    costs : tuple of Cost
        In the order of :data:`CAUSES`; their sums are the errors below.
    cross_track_nm, along_track_nm : float
        Measured error at the roll-out.
    time_s : float or None
        Measured error of the inbound time.
    end_cross_track_nm, end_along_track_nm : float or None
        Measured error at the end of the circuit.
    flown, right : FlownDecisions
        The decisions as taken, and as they should have been.
    axes : Axes
    instants : Instants
    """

    costs: tuple[Cost, ...]
    cross_track_nm: float
    along_track_nm: float
    time_s: float | None
    end_cross_track_nm: float | None
    end_along_track_nm: float | None
    flown: FlownDecisions
    right: FlownDecisions
    axes: Axes
    instants: Instants

    def righted(self, causes: Collection[str]) -> FlownDecisions:
        """Return the decisions with some of them taken rightly.

        Parameters
        ----------
        causes : collection of str
            Of :data:`DECISIONS`.

        Returns
        -------
        FlownDecisions
        """
        right = {cause: getattr(self.right.decisions, cause) for cause in causes if cause in DECISIONS}
        return FlownDecisions(replace(self.flown.decisions, **right), self.flown.air)


def error_budget(lap: Lap) -> Budget | str:
    """Split the error of a circuit into its causes.

    Parameters
    ----------
    lap : Lap

    Returns
    -------
    Budget or str
        Why there is none, in words: parts missing, turned the wrong way, not measured well enough, or no
        exact circuit in that wind.
    """
    instants = _instants(lap)
    if isinstance(instants, str):
        return instants
    if not lap.ideal.circuit.closes:
        return lap.ideal.circuit.why_not
    axes = Axes(lap.frame, lap.flown.hold.inbound_course_true_deg, lap.flown.hold.side)
    taken, right = _as_flown(lap, axes, instants), _as_right(lap, axes)
    if taken.first_turn.angle_deg < _LEAST_TURN_DEG or taken.second_turn.angle_deg < _LEAST_TURN_DEG:
        return "one of the turns is too short to be a hold's"
    rollout = axes.at(instants.rollout_s)
    moved = dict(zip(DECISIONS, _averaged(taken, right), strict=True))
    moved |= _found(lap, axes, instants, taken, rollout)
    return _budget(lap, axes, instants, taken, right, moved, rollout)


def _instants(lap: Lap) -> Instants | str:
    circuit = lap.circuit
    first, second = circuit.outbound_turn, circuit.inbound_turn
    if first is None or second is None or circuit.outbound_leg is None:
        return "the circuit has no outbound leg between two turns"
    if second.start_s - first.end_s < 1.0:
        return "there was no outbound leg between the turns"
    if lap.in_hole(circuit.start_s, second.end_s):
        return "the log has a hole between the fix and the roll-out"
    fault = _turn_fault(lap, first) or _turn_fault(lap, second)
    return fault or Instants(circuit.start_s, first.start_s, first.end_s, second.start_s, second.end_s)


def _turn_fault(lap: Lap, turn: Turn) -> str:
    """Say why a turn cannot be reckoned with; empty where it can."""
    if turn.heading_change_deg * lap.flown.hold.side <= 0.0:
        return "a turn went the other way than the hold's"
    if not turn.bank_mean_sd_deg <= lap.scoring.bank.tolerance_deg:
        return "the turns are too coarsely recorded to say what cost what"
    if abs(turn.rate_mean_dps) < _LEAST_RATE_DPS:
        return "one of the turns is too wide to be a hold's"
    return ""


def _air(lap: Lap, axes: Axes) -> Air:
    circuit = lap.circuit
    exact = lap.ideal.circuit
    distance = lap.flown.hold.leg is not None and lap.flown.hold.leg.minutes is None
    by_abeam = circuit.abeam_s is not None and exact.abeam_after_s is not None
    wind = axes.vector(circuit.wind_east_kt, circuit.wind_north_kt)
    clock: Clock = "length" if distance else "abeam" if by_abeam else "wings level"
    return Air(circuit.tas_kt, wind, exact.roll_s, clock)


def _as_flown(lap: Lap, axes: Axes, at: Instants) -> FlownDecisions:
    circuit, motion = lap.circuit, lap.flown.motion
    assert circuit.outbound_turn and circuit.inbound_turn and circuit.outbound_leg
    air = _air(lap, axes)
    times = {
        "length": axes.at(at.turn_in_s).real,
        "abeam": at.turn_in_s - max(circuit.abeam_s or 0.0, at.fix_s),
        "wings level": at.turn_in_s - at.level_s,
    }
    taken = Decisions(
        axes.at(at.fix_s),
        axes.heading(motion.at("heading_deg", at.turn_s), 0.0),
        at.turn_s - at.fix_s,
        abs(circuit.outbound_turn.rate_mean_dps),
        axes.heading(circuit.outbound_leg.heading_deg, 180.0),
        times[air.clock],
        abs(circuit.inbound_turn.rate_mean_dps),
        axes.heading(motion.at("heading_deg", at.rollout_s), 360.0),
    )
    return FlownDecisions(taken, air)


def _as_right(lap: Lap, axes: Axes) -> FlownDecisions:
    exact, air = lap.ideal.circuit, _air(lap, axes)
    times = {
        "length": exact.outbound_end_along_nm,
        "abeam": exact.outbound_timed_s,
        "wings level": exact.outbound_time_s,
    }
    right = Decisions(
        0j,
        exact.side * exact.inbound_drift_correction_deg,
        0.0,
        exact.turn_rate_dps,
        axes.heading(exact.outbound_heading_deg, 180.0),
        times[air.clock],
        exact.turn_rate_dps,
        360.0 + exact.side * exact.inbound_drift_correction_deg,
    )
    return FlownDecisions(right, air)


def _averaged(taken: FlownDecisions, right: FlownDecisions) -> list[complex]:
    """Average over all orders what putting each decision right moves the roll-out by."""
    names = [field.name for field in fields(Decisions)]
    count = len(names)
    values = [(getattr(right.decisions, name), getattr(taken.decisions, name)) for name in names]
    rollout = {
        chosen: FlownDecisions(
            Decisions(*(pair[k] for pair, k in zip(values, chosen, strict=True))), taken.air
        ).rollout
        for chosen in product((0, 1), repeat=count)
    }
    weights = [
        math.factorial(k) * math.factorial(count - 1 - k) / math.factorial(count) for k in range(count)
    ]
    shares = [0j] * count
    for chosen, there in rollout.items():
        for i in range(count):
            if chosen[i] == 0:
                with_it = (*chosen[:i], 1, *chosen[i + 1 :])
                shares[i] += weights[sum(chosen)] * (rollout[with_it] - there)
    return shares


def _found(
    lap: Lap, axes: Axes, at: Instants, taken: FlownDecisions, measured: complex
) -> dict[str, complex]:
    """Find what no decision explains, each by a replay of its own."""
    air = taken.air
    replay = Replay(
        lap.flown.motion, axes, at, air.tas_kt, air.wind, air.clock, taken.decisions.outbound_time
    )
    steady = taken.rollout
    headings = replay.rollout(measured_speed=False, measured_wind=False)
    speeds = replay.rollout(measured_speed=True, measured_wind=False)
    winds = replay.rollout(measured_speed=True, measured_wind=True)
    steps = (headings - steady, speeds - headings, winds - speeds, measured - winds)
    return dict(zip(FOUND, steps, strict=True))


def _spreads(lap: Lap, taken: FlownDecisions) -> dict[str, float]:
    """Return how far the roll-out moves by one sigma of each cause."""
    circuit, motion, ideal = lap.circuit, lap.flown.motion, lap.ideal
    first, second, leg = circuit.outbound_turn, circuit.inbound_turn, circuit.outbound_leg
    assert first and second and leg
    fix_sd_nm, tas, clock = lap.flown.fix_sd_nm or 0.0, max(circuit.tas_kt, 1.0), taken.air.clock
    abeam_sd_s = 3600.0 * fix_sd_nm / tas
    drift_sd = math.degrees(circuit.wind_sd_kt / tas)
    target_sd = ideal.outbound_timed_sd_s if clock == "abeam" else ideal.outbound_time_sd_s
    times = {
        "abeam": math.hypot(second.start_sd_s, abeam_sd_s, target_sd),
        "wings level": math.hypot(first.end_sd_s, second.start_sd_s, target_sd),
        "length": math.hypot(fix_sd_nm, tas / 3600.0 * second.start_sd_s),
    }
    sds = {
        "fix_crossing": complex(0.0, fix_sd_nm),
        "arrival_heading": math.hypot(motion.at("heading_sd_deg", first.start_s), drift_sd),
        "outbound_turn_start": math.hypot(first.start_sd_s, abeam_sd_s),
        "outbound_turn_bank": _rate_sd_dps(first, taken.decisions.outbound_turn_bank),
        "outbound_heading": math.hypot(leg.heading_sd_deg, ideal.outbound_heading_sd_deg),
        "outbound_time": times[clock],
        "inbound_turn_bank": _rate_sd_dps(second, taken.decisions.inbound_turn_bank),
        "rollout_heading": math.hypot(motion.at("heading_sd_deg", second.end_s), drift_sd),
    }
    spreads = {cause: _moved_by(taken, cause, sd) for cause, sd in sds.items()}
    hours = (second.end_s - circuit.start_s) / 3600.0
    return spreads | {
        # What the mean bank does not explain is only as sure as the mean bank.
        "unsteadiness": math.hypot(spreads["outbound_turn_bank"], spreads["inbound_turn_bank"]),
        "airspeed": circuit.tas_sd_kt * hours,
        "wind_change": circuit.wind_sd_kt * hours,
        "measurement": 0.0,
        "inbound_leg": 0.0,
    }


def _moved_by(taken: FlownDecisions, cause: str, sd: complex) -> float:
    if not cmath.isfinite(sd):
        return math.inf
    value = getattr(taken.decisions, cause)
    nudged = replace(taken.decisions, **{cause: value + sd})
    return abs(FlownDecisions(nudged, taken.air).rollout - taken.rollout)


def _rate_sd_dps(turn: Turn, rate_dps: float) -> float:
    """Return the sigma of the turn rate: that of the mean bank, carried over."""
    bank = max(abs(turn.bank_mean_deg), 1.0)
    return rate_dps * math.radians(turn.bank_mean_sd_deg) / math.sin(math.radians(2.0 * bank)) * 2.0


def _detour_s(share_cross: float, rollout_cross: float, ground_speed_kt: float) -> float:
    """Return the time that flying off a cross-track share takes at the usual angle of interception.

    Closing |c| at an angle θ is longer than the same way along the course by |c|·tan(θ/2).
    """
    sign = math.copysign(1.0, rollout_cross)
    return share_cross * sign * math.tan(math.radians(0.5 * INTERCEPT_DEG)) * 3600.0 / ground_speed_kt


def _budget(
    lap: Lap,
    axes: Axes,
    instants: Instants,
    taken: FlownDecisions,
    right: FlownDecisions,
    moved: dict[str, complex],
    rollout: complex,
) -> Budget:
    exact, circuit, side = lap.ideal.circuit, lap.circuit, axes.side
    speed_kt, spreads = exact.inbound_ground_speed_kt, _spreads(lap, taken)
    # The exact circuit's own roll-out, not the model's, so that both must agree for the sums to hold.
    error = rollout - complex(exact.rollout_along_nm, side * exact.rollout_cross_nm)
    times = {
        cause: -share.real * 3600.0 / speed_kt + _detour_s(share.imag, error.imag, speed_kt)
        for cause, share in moved.items()
    }
    done = circuit.complete
    time_error = circuit.end_s - instants.rollout_s - exact.inbound_time_s if done else None
    end = axes.at(circuit.end_s) if done else None
    costs = [
        Cost(
            cause,
            side * share.imag,
            share.real,
            times[cause] if done else None,
            side * share.imag if done else None,
            share.real if done else None,
            spreads[cause],
        )
        for cause, share in moved.items()
    ]
    if time_error is not None and end is not None:
        rest, rest_s = end - error, time_error - sum(times.values())
        costs.append(
            Cost("inbound_leg", 0.0, 0.0, rest_s, side * rest.imag, rest.real, spreads["inbound_leg"])
        )
    return Budget(
        tuple(costs),
        side * error.imag,
        error.real,
        time_error,
        None if end is None else side * end.imag,
        None if end is None else end.real,
        taken,
        right,
        axes,
        instants,
    )
