"""One circuit with everything that judging it needs: the motion in the hold's axes and the exact circuit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold
from analyser.circuits.frame import HoldFrame
from analyser.grading.ideal import Ideal
from analyser.grading.terms import Terms
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring
from analyser.rules.standard import Standard

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
