"""One circuit with everything that judging it needs: the motion in the hold's axes, and the exact circuit."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold
from analyser.circuits.frame import HoldFrame
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.terms import Clock, Terms
from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit
from analyser.holds.ideal_circuit import ideal_circuit
from analyser.rules.flight_test_standard import Standard
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring


@dataclass(frozen=True)
class Ideal:
    """What should have been flown, in the wind that blew.

    Attributes
    ----------
    circuit : ExactCircuit
        Where ``closes`` is False there is none and nothing may be read from it; where only ``exists`` is
        False it is the shortest that can be flown.
    outbound_heading_sd_deg, outbound_timed_sd_s, outbound_time_sd_s, inbound_time_sd_s : float
        Sigma from the wind, the airspeed and the course; infinite where neighbouring winds have no circuit.
    """

    circuit: ExactCircuit
    outbound_heading_sd_deg: float
    outbound_timed_sd_s: float
    outbound_time_sd_s: float
    inbound_time_sd_s: float

    def outbound_s(self, clock: Clock) -> tuple[float, float]:
        """Return the outbound time by a clock, and its sigma, seconds."""
        if clock == "abeam":
            return self.circuit.outbound_timed_s, self.outbound_timed_sd_s
        return self.circuit.outbound_time_s, self.outbound_time_sd_s


def ideal_for(
    hold: Hold, regime: Regime, circuit: Circuit, altitude_ft: float, course_sd_deg: float = 0.0
) -> Ideal:
    """Solve the exact circuit for a flown one.

    Parameters
    ----------
    hold : Hold
    regime : Regime
    circuit : Circuit
        Its own mean wind and airspeed are used.
    altitude_ft : float
        Of the circuit: the leg time and the speed limit depend on it.
    course_sd_deg : float
        Of the inbound course, where it was inferred.

    Returns
    -------
    Ideal
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
        return _unknown(hold, regime, altitude_ft)
    best = solve()
    if not best.closes:
        return Ideal(best, math.inf, math.inf, math.inf, math.inf)
    if not (math.isfinite(circuit.wind_sd_kt) and math.isfinite(circuit.tas_sd_kt)):
        return Ideal(best, math.inf, math.inf, math.inf, math.inf)
    # One sigma of each input at a time; what they move adds up by squares.
    moved = [
        solve(east_kt=circuit.wind_sd_kt),
        solve(north_kt=circuit.wind_sd_kt),
        solve(tas_kt=circuit.tas_sd_kt),
        solve(course_deg=course_sd_deg),
    ]
    return Ideal(
        best,
        _spread([wrap180(one.outbound_heading_deg - best.outbound_heading_deg) for one in moved]),
        _spread([one.outbound_timed_s - best.outbound_timed_s for one in moved]),
        _spread([one.outbound_time_s - best.outbound_time_s for one in moved]),
        _spread([one.inbound_time_s - best.inbound_time_s for one in moved]),
    )


def _unknown(hold: Hold, regime: Regime, altitude_ft: float) -> Ideal:
    """Return an ideal that says that nothing is known of the air."""
    # A wind that nobody can fly in gives the empty circuit; only its reason is another.
    nothing = ideal_circuit(
        hold, regime, tas_kt=1.0, altitude_ft=altitude_ft, wind_east_kt=1e3, wind_north_kt=1e3
    )
    why_not = "wind or airspeed are not known for this circuit"
    return Ideal(replace(nothing, closes=False, why_not=why_not), math.inf, math.inf, math.inf, math.inf)


def _spread(moved: list[float]) -> float:
    return math.hypot(*moved) if all(map(math.isfinite, moved)) else math.inf


#: A phase of which more than this share lies in a hole of the log was not measured.
MOST_HOLE = 0.3


@dataclass(frozen=True)
class Lap:
    """One circuit ready to be judged.

    Attributes
    ----------
    frame : HoldFrame
        The whole motion along and across the inbound course.
    ideal : Ideal
        The exact circuit for this circuit's own wind and airspeed.
    terms : Terms
        What it is judged by.
    first : bool
        True for the first circuit of the hold, the one that measures.
    cut_short : bool
        True where it was cut short or drawn out to leave on time.
    """

    flown: FlownHold
    circuit: Circuit
    frame: HoldFrame
    ideal: Ideal
    regime: Regime
    standard: Standard
    scoring: Scoring
    terms: Terms
    first: bool
    cut_short: bool = False

    def how(self, name: str) -> str:
        """Say how a quantity was come by: "logged" or "derived"."""
        return self.flown.motion.obtained.get(name, "derived")

    def hole_share(self, start_s: float, end_s: float) -> float:
        """Return the share of a span that the log did not record."""
        inside = self.flown.motion.in_hole[self.flown.motion.span(start_s, end_s)]
        return float(np.mean(inside)) if inside.size else 0.0

    def in_hole(self, start_s: float, end_s: float) -> bool:
        """Return whether too much of a span was not recorded for it to be judged."""
        return self.hole_share(start_s, end_s) > MOST_HOLE

    def series(self, name: str, start_s: float, end_s: float) -> Any:
        """Return the recorded part of one of the motion's series within a span."""
        return self.recorded(getattr(self.flown.motion, name), start_s, end_s)

    def recorded(self, series: Any, start_s: float, end_s: float) -> Any:
        """Return the recorded part of a series on the motion's grid within a span."""
        span = self.flown.motion.span(start_s, end_s)
        return series[span][~self.flown.motion.in_hole[span]]
