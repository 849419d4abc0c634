"""What judging gives for a whole hold. Data only, no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.circuits.flown import Circuit
from analyser.grading.advice import Advice, Share
from analyser.grading.cost import Budget
from analyser.grading.entry_judged import JudgedEntry
from analyser.grading.ideal import Ideal
from analyser.grading.learning import Lesson
from analyser.grading.leaving import Leaving
from analyser.grading.levels import LevelPlan
from analyser.grading.measures import Measures
from analyser.grading.parts import Part
from analyser.grading.score import Score, Verdict
from analyser.rules.scoring import GradeStep, Scoring

__all__ = [
    "Advice",
    "JudgedCircuit",
    "JudgedEntry",
    "JudgedHold",
    "Leaving",
    "Lesson",
    "Measures",
    "Part",
    "Score",
    "Share",
    "Verdict",
]


@dataclass(frozen=True)
class JudgedCircuit:
    """One circuit, judged.

    Attributes
    ----------
    circuit : Circuit
        As flown.
    measures : Measures
    ideal : Ideal
        The exact circuit for its wind and airspeed.
    altitude_ft : float or None
        Median of the circuit.
    scores : dict of str to Score
        Keys as in :data:`analyser.rules.scoring.ITEMS`, in that order.
    inbound_correction : Score
        Shown beside the wind correction; has no weight.
    points : float or None
        Weighted mean of the items judged.
    budget : Budget or None
        None where the circuit's error cannot be split.
    no_budget : str
        Why it cannot; empty where it can.
    shares : tuple of Share
        The budget's costs with their advice.
    """

    circuit: Circuit
    measures: Measures
    ideal: Ideal
    altitude_ft: float | None
    scores: dict[str, Score]
    inbound_correction: Score
    points: float | None
    budget: Budget | None
    no_budget: str
    shares: tuple[Share, ...]

    @property
    def advised(self) -> tuple[Share, ...]:
        """The shares whose advice is given, most costly first."""
        ranked = [share for share in self.shares if share.rank is not None]
        return tuple(sorted(ranked, key=lambda share: share.rank or 0))


@dataclass(frozen=True)
class JudgedHold:
    """One hold, judged.

    Attributes
    ----------
    entry : JudgedEntry or None
        None where the log begins inside the hold.
    circuits : tuple of JudgedCircuit
    points : float or None
        Weighted mean of the parts judged.
    grade : GradeStep or None
        Proposed for these points; the holding area is not looked at yet.
    verdict : tuple of str
        Sentences in plain words, the most important first.
    advice : tuple of Share
        The most costly over all circuits, one for each cause, at most as many as for one circuit.
    learning : tuple of Lesson
    leaving : Leaving or None
        None where no time to leave was given.
    levels : LevelPlan
        The altitude to hold along the motion.
    altitude_ft : float or None
        Median of the hold.
    scoring : Scoring
        The rule the points were given by.
    variation_deg : float or None
        For magnetic directions in words, east positive.
    parts : tuple of Part
        What the points are the weighted mean of.
    """

    entry: JudgedEntry | None
    circuits: tuple[JudgedCircuit, ...]
    points: float | None
    grade: GradeStep | None
    verdict: tuple[str, ...]
    advice: tuple[Share, ...]
    learning: tuple[Lesson, ...]
    leaving: Leaving | None
    levels: LevelPlan
    altitude_ft: float | None
    scoring: Scoring
    variation_deg: float | None
    parts: tuple[Part, ...] = ()
