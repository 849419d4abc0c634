"""One judged item: its points, what they were given for, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from analyser.frozen import dataclass
from analyser.grading.wording import at_least
from analyser.rules.scoring import Scoring

#: Value, target, tolerance, sigma of value and target, and their unit.
Numbers = tuple[float | None, float | None, float | None, float | None, str]
#: "within": the deviation is no larger than the tolerance. "outside": it is larger. "not judged": the log
#: cannot tell, and the note says why.
Verdict = Literal["within", "outside", "not judged"]


@dataclass(frozen=True)
class Score:
    """Points for one item."""

    #: 0 … 100 by the published rule; None where not judged.
    points: float | None
    #: What was flown, and what should have been.
    value: float | None
    target: float | None
    #: Plus or minus.
    tolerance: float | None
    verdict: Verdict
    #: Of all these.
    unit: str
    #: Sigma of ``value − target``, from the log's own uncertainty.
    sd: float | None = None
    #: What the points were given for; differs from ``value − target`` where the value is a mean of several.
    deviation: float | None = None
    #: What ``value`` is an error from, where it is an error: the altitude or speed to hold.
    reference: float | None = None
    #: ``"logged"``, ``"derived"`` or empty: how the value was come by.
    how: str = ""
    #: The rule or standard behind target and tolerance.
    rule: str = ""
    #: What else should be known; why it was not judged.
    note: str = ""
    #: Of altitude and speed: how long the tolerance was left, and the longest time to come back.
    outside_s: float | None = None
    back_s: float | None = None

    @property
    def numbers(self) -> Numbers:
        """What a finding on it holds against one another."""
        return self.value, self.target, self.tolerance, self.sd, self.unit


@dataclass(frozen=True)
class Gauge:
    """What one item is held against: how points are given, unit, tolerance, the rule behind them, how it was read."""

    scoring: Scoring
    unit: str
    tolerance: float | None
    rule: str = ""
    how: str = ""

    def score(
        self,
        value: float,
        target: float,
        sd: float,
        note: str = "",
        *,
        deviation: float | None = None,
        reference: float | None = None,
        beyond_doubt: bool = False,
    ) -> Score:
        """Give points, unless the value is too uncertain to be judged.

        ``sd`` is that of the deviation, which is ``value − target`` where left out. Where two of them are more than the
        tolerance nothing is judged: the verdict would be a guess. ``beyond_doubt`` is for a quantity whose sigma leans
        on no wind: there what lies outside by more than two sigma is, however rough the log.
        """
        tolerance, off = self.tolerance, value - target if deviation is None else deviation
        assert tolerance is not None
        says_nothing = "the log does not say"
        known = replace(
            self.unjudged(says_nothing, value, target),
            sd=sd,
            deviation=off,
            reference=reference,
            how=self.how,
        )
        if not math.isfinite(off):
            return replace(known, value=None, deviation=None)
        if not math.isfinite(sd):
            return known
        if not 2.0 * sd <= tolerance:
            unit = self.unit if self.unit == "°" else f" {self.unit}"
            known_to = f"known only to ±{at_least(2 * sd)}{unit}, where ±{tolerance:g}{unit} is allowed"
            if not beyond_doubt or abs(off) - 2.0 * sd <= tolerance:
                return replace(known, note=known_to)
            note = "; ".join(one for one in (note, f"{known_to}; surely outside all the same") if one)
        verdict: Verdict = "within" if abs(off) <= tolerance else "outside"
        return replace(known, points=self.scoring.points.points(off, tolerance), verdict=verdict, note=note)

    def unjudged(self, why: str, value: float | None = None, target: float | None = None) -> Score:
        """Return a score without points that says why, with what is known all the same."""
        return Score(None, value, target, self.tolerance, "not judged", self.unit, rule=self.rule, note=why)


def mean_points(parts: list[tuple[float | None, float]], least_judged: float = 0.0) -> float | None:
    """Return the weighted mean of what was judged, of pairs of points and weight.

    Points of None were not judged: left out, neither 0 nor 100. None where nothing, or less than a share of the
    weight, was.
    """
    judged = [(points, weight) for points, weight in parts if points is not None and weight > 0.0]
    total = sum(weight for _, weight in judged)
    if not judged or total < least_judged * sum(weight for _, weight in parts):
        return None
    return sum(points * weight for points, weight in judged) / total


def passed(score: Score, unit: str, decimals: int = 0) -> str:
    """Write a value outside its tolerance so that it does not round to one within."""
    assert score.value is not None and score.target is not None and score.tolerance is not None
    said = f"{score.value:.{decimals}f}{unit}"
    if abs(round(score.value, decimals) - round(score.target, decimals)) > score.tolerance:
        return said
    return f"just {'over' if score.value > score.target else 'under'} {said}"
