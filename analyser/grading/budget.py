"""The error budget: what each fault of a circuit cost at the roll-out and in inbound time.

How it is reckoned. Eight decisions of the pilot (:mod:`replay`) give the roll-out point in the mean wind at
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
from dataclasses import fields, replace
from itertools import product

from analyser.frozen import dataclass
from analyser.grading.lap import Lap
from analyser.grading.replay import (
    DECISIONS,
    Axes,
    Decisions,
    FlownDecisions,
    Instants,
    Replay,
    as_right,
    as_taken,
    instants_of,
    spreads,
)

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
        """
        right = {cause: getattr(self.right.decisions, cause) for cause in causes if cause in DECISIONS}
        return replace(self.flown, decisions=replace(self.flown.decisions, **right))


#: A course is met again at this angle, as is taught [C]; what that costs in time belongs to whoever caused it.
INTERCEPT_DEG = 30.0


def error_budget(lap: Lap) -> Budget | str:
    """Split the error of a circuit into its causes; or say in words why it cannot be."""
    if lap.flown.other_end is not None:
        return "which end of the racetrack is the fix cannot be told"
    instants = instants_of(lap)
    if isinstance(instants, str):
        return instants
    if not lap.ideal.circuit.closes:
        return lap.ideal.circuit.why_not
    axes = Axes(lap.frame, lap.flown.hold.inbound_course_true_deg, lap.flown.hold.side)
    taken, right = as_taken(lap, axes, instants), as_right(lap, axes)
    if not (taken.is_finite() and cmath.isfinite(rollout := axes.at(instants.rollout_s))):
        return "headings, turns or positions are not known for this circuit"
    moved = dict(zip(DECISIONS, _averaged(taken, right), strict=True))
    moved |= _found(lap, axes, instants, taken, rollout)
    if not all(map(cmath.isfinite, moved.values())):
        return "airspeed or wind are not known all the way round"
    return _budget(lap, axes, instants, taken, right, moved, rollout)


def _averaged(taken: FlownDecisions, right: FlownDecisions) -> list[complex]:
    """Average over all orders what putting each decision right moves the roll-out by."""
    names = [field.name for field in fields(Decisions)]
    count = len(names)
    values = [(getattr(right.decisions, name), getattr(taken.decisions, name)) for name in names]
    rollout = {
        chosen: FlownDecisions(
            Decisions(*(pair[k] for pair, k in zip(values, chosen, strict=True))), taken.flight, taken.clock
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
    outbound = taken.decisions.outbound_time
    replay = Replay(lap.flown.motion, axes, at, taken.flight, taken.clock, outbound)
    steady = taken.rollout
    headings = replay.rollout(measured_speed=False, measured_wind=False)
    speeds = replay.rollout(measured_speed=True, measured_wind=False)
    winds = replay.rollout(measured_speed=True, measured_wind=True)
    steps = (headings - steady, speeds - headings, winds - speeds, measured - winds)
    return dict(zip(FOUND, steps, strict=True))


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
    speed_kt, spread = exact.inbound_ground_speed_kt, spreads(lap, taken)
    # The exact circuit's own roll-out, not the model's, so that both must agree for the sums to hold.
    error = rollout - exact.rollout_nm
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
            spread[cause],
        )
        for cause, share in moved.items()
    ]
    if time_error is not None and end is not None:
        rest, rest_s = end - error, time_error - sum(times.values())
        costs.append(
            Cost("inbound_leg", 0.0, 0.0, rest_s, side * rest.imag, rest.real, spread["inbound_leg"])
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
