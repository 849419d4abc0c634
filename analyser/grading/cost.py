"""What each cause cost on one circuit, and the error that the costs add up to. Data only."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

from analyser.grading.axes import Axes
from analyser.grading.decisions import DECISIONS, FlownDecisions
from analyser.grading.replay import Instants

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
