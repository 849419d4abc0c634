"""The error budget: what each fault of a circuit cost at the roll-out and in inbound time.

How it is reckoned. Eight decisions of the pilot (:mod:`decisions`) give the roll-out point in the mean wind at
the mean airspeed; the exact circuit is the same eight decisions taken rightly. What one decision cost is how
far the roll-out moves when it is put right, averaged over all orders in which the eight could be put right.
So the shares add up exactly, whichever faults go together, and two pilots with the same faults get the same
shares. What no decision explains is found by replaying the measured headings, airspeed and wind
(:mod:`replay`): unsteady flying, airspeed that wandered, wind that changed. Last comes the inbound leg.

References
----------
L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II, 1953 (the averaging
over orders; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, fields, replace
from itertools import product

from analyser.grading.axes import Axes
from analyser.grading.decisions import DECISIONS, Air, Clock, Decisions, FlownDecisions
from analyser.grading.lap import Lap
from analyser.grading.replay import Instants, Replay

#: Causes that are no decision, in the order in which they are found.
FOUND = ("unsteadiness", "airspeed", "wind_change", "measurement")
CAUSES = (*DECISIONS, *FOUND, "inbound_leg")


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
    """

    cause: str
    cross_track_nm: float
    along_track_nm: float
    time_s: float | None
    end_cross_track_nm: float | None
    end_along_track_nm: float | None

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


def error_budget(lap: Lap) -> Budget | None:
    """Split the error of a circuit into its causes.

    Parameters
    ----------
    lap : Lap

    Returns
    -------
    Budget or None
        None where the circuit has no two turns and outbound leg, was turned the wrong way, or where no
        exact circuit can be flown in that wind.
    """
    instants = _instants(lap)
    if instants is None or not lap.ideal.circuit.closes:
        return None
    axes = Axes(lap.frame, lap.flown.hold.inbound_course_true_deg, lap.flown.hold.side)
    taken, right = _as_flown(lap, axes, instants), _as_right(lap, axes)
    if taken.first_turn.angle_deg < 30.0 or taken.second_turn.angle_deg < 30.0:
        return None
    rollout = axes.at(instants.rollout_s)
    moved = dict(zip(DECISIONS, _averaged(taken, right), strict=True))
    moved |= _found(lap, axes, instants, taken, rollout)
    return _budget(lap, axes, instants, taken, right, moved, rollout)


def _instants(lap: Lap) -> Instants | None:
    circuit = lap.circuit
    first, second = circuit.outbound_turn, circuit.inbound_turn
    if first is None or second is None or circuit.outbound_leg is None:
        return None
    if min(first.heading_change_deg, second.heading_change_deg, key=abs) * lap.flown.hold.side <= 0.0:
        return None
    if min(abs(first.rate_mean_dps), abs(second.rate_mean_dps)) < 0.3 or second.start_s - first.end_s < 1.0:
        return None
    return Instants(circuit.start_s, first.start_s, first.end_s, second.start_s, second.end_s)


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
    # The exact circuit's own roll-out, not the model's, so that both must agree for the sums to hold.
    error = rollout - complex(exact.rollout_along_nm, side * exact.rollout_cross_nm)
    moved_time = {
        cause: -share.real * 3600.0 / exact.inbound_ground_speed_kt for cause, share in moved.items()
    }
    time_error = end = None
    if circuit.complete:
        time_error = circuit.end_s - instants.rollout_s - exact.inbound_time_s
        end = axes.at(circuit.end_s)
    costs = [
        Cost(
            cause,
            side * share.imag,
            share.real,
            None if time_error is None else moved_time[cause],
            None if end is None else side * share.imag,
            None if end is None else share.real,
        )
        for cause, share in moved.items()
    ]
    if time_error is not None and end is not None:
        rest = end - error
        costs.append(
            Cost(
                "inbound_leg",
                0.0,
                0.0,
                time_error - sum(moved_time.values()),
                side * rest.imag,
                rest.real,
            )
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
