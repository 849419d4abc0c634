"""How an instructor's grades lean against the computed points, by a model that knows that grades are steps with ends.

The points stand for a place on the scale, in steps and parts of a step. An instructor who leans by d steps, with a
scatter s of the instructor's own, gives grade g where place + d + s·noise falls into the step of g; the lowest and
the highest step have no end (ordered probit, P. McCullagh, J. R. Statist. Soc. B 42, 1980, from memory). So a fair
instructor of strong pilots, who can hardly be kinder than the top grade, is not called strict for it, as a mean of
differences would.

Grades of one session are given on one evening and in one mood: sessions, not grades, are counted as independent. A
lean is spoken of only where both readings of the points, by parts of a step and by whole steps, leave out none, and
the limits are those of all of an instructor's rows together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.logbook.logbook_thresholds import LEANING
from analyser.logbook.marks import in_order
from analyser.logbook.sessions import Grade, Session
from analyser.logbook.standard import scale_of
from analyser.rules.scales import Scale

FloatArray = NDArray[np.float64]

ALL_ITEMS = "all"
#: How far the likelihood is looked at on either side of its top.
_STEP = 1e-4


@dataclass(frozen=True)
class Leaning:
    """How far an instructor's grades and the computed points disagree in an item, or in ``"all"``.

    Grades of items that were computed too are counted: the ``same`` as proposed, ``higher`` and ``lower``. ``lean`` is
    in steps of the scale, positive is kinder; None where too little was graded, or the scale is not at hand. Its limits
    hold for all of the instructor's rows together in 95 of 100 cases.
    """

    instructor: str
    scale: str
    item: str
    grades: int
    sessions: int
    same: int
    higher: int
    lower: int
    lean: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def verdict(self) -> str:
        """``"kinder"``, ``"stricter"``, ``"none"`` where the limits include none, ``"too little"``."""
        if self.low is None or self.high is None:
            return "too little"
        return "kinder" if self.low > 0 else "stricter" if self.high < 0 else "none"


#: The key of a session, and a grade that counts in it.
_Given = tuple[str, Grade]


def leanings(sessions: Sequence[Session], scale: Scale) -> list[Leaning]:
    """Work out how each instructor's grades lean: per instructor and scale all items together, then each item."""
    groups: dict[tuple[str, str], list[_Given]] = {}
    for session in sessions:
        for (_, _, role), counting in session.counting_grades().items():
            for one in counting:
                if role == "instructor" and one.grader is not None and one.proposed_place is not None:
                    groups.setdefault((one.grader, one.scale), []).append((session.key, one))
    found = []
    for (grader, scale_key), given in sorted(groups.items(), key=lambda pair: pair[0][0].casefold()):
        items = in_order(one.item for _, one in given)
        rows = [(ALL_ITEMS, given), *((key, [one for one in given if one[1].item == key]) for key in items)]
        spoken = max(1, sum(_enough(row) for _, row in rows))
        for key, row in rows:
            found.append(_leaning(grader, scale_key, key, row, scale_of(scale_key, scale), spoken))
    return found


def _enough(given: Sequence[_Given]) -> bool:
    return (
        len(given) >= LEANING.least_grades
        and len({session for session, _ in given}) >= LEANING.least_sessions
    )


def _leaning(
    grader: str, scale_key: str, item: str, given: Sequence[_Given], scale: Scale | None, rows: int
) -> Leaning:
    # What has no proposal does not count.
    proposed = np.array([one.proposed_place for _, one in given], float)
    steps = np.array([one.place for _, one in given]) - proposed
    counted = Leaning(
        grader,
        scale_key,
        item,
        grades=len(given),
        sessions=len({session for session, _ in given}),
        same=int(np.sum(steps == 0)),
        higher=int(np.sum(steps > 0)),
        lower=int(np.sum(steps < 0)),
    )
    if scale is None or not _enough(given):
        return counted
    # What is proposed may lie below what the points alone are worth: an instructor who follows that leans nowhere.
    points = np.array([place_of(one.computed_points or 0.0, scale) for _, one in given])
    places = np.clip(points, proposed - 0.5, np.nextafter(proposed + 0.5, 0.0))
    levels = len(scale.levels)
    whole_steps = np.clip(np.floor(places + 0.5), 1.0, float(levels))
    tail = LEANING.false_words / (2.0 * rows)
    (lean, half), (whole, whole_half) = (_lean(given, each, levels, tail) for each in (places, whole_steps))
    return replace(
        counted,
        lean=lean,
        low=min(lean - half, whole - whole_half),
        high=max(lean + half, whole + whole_half),
    )


def place_of(points: float, scale: Scale) -> float:
    """Return where points stand on a scale, in steps: 3.5 is where the fourth level begins."""
    begins = [level.points_from for level in scale.levels]
    edges = [min(0.0, begins[0] - 1.0), *begins[1:], max(100.0, begins[-1] + 1.0)]
    return float(np.interp(points, edges, np.arange(len(edges)) + 0.5))


def _lean(given: Sequence[_Given], places: FloatArray, levels: int, tail: float) -> tuple[float, float]:
    """Return the likeliest lean, and how far its limits lie from it; ``places`` are where the points stand."""
    from scipy.optimize import minimize
    from scipy.special import ndtr, stdtrit

    grades = np.array([float(one.place) for _, one in given])
    upper = np.where(grades >= levels, np.inf, grades + 0.5)
    lower = np.where(grades <= 1, -np.inf, grades - 0.5)
    usual = math.log(LEANING.scatter)

    def likely(lean: float, log_scatter: float) -> FloatArray:
        scatter, middle = math.exp(log_scatter), places + lean
        chance = ndtr((upper - middle) / scatter) - ndtr((lower - middle) / scatter)
        slips = LEANING.slip_share
        return np.asarray(np.log((1.0 - slips) * chance + slips / levels))

    def unlikely(at: FloatArray) -> float:
        prior = (at[0] / LEANING.lean_sd) ** 2 + ((at[1] - usual) / LEANING.scatter_log_sd) ** 2
        return 0.5 * float(prior) - float(likely(at[0], at[1]).sum())

    lean, log_scatter = map(float, minimize(unlikely, np.array([0.0, usual]), method="BFGS").x)
    less, there, more = (likely(lean + shift, log_scatter) for shift in (-_STEP, 0.0, _STEP))
    information = max(float(-(more - 2 * there + less).sum()) / _STEP**2 + LEANING.lean_sd**-2, 1e-6)
    # By how much the sessions disagree (sandwich, sessions as clusters); where all grades agree they hardly differ by
    # luck, and the model's own sigma is a floor.
    _, cluster = np.unique([session for session, _ in given], return_inverse=True)
    sums = np.bincount(cluster, weights=(more - less) / (2 * _STEP))
    meat = float(np.sum((sums - sums.mean()) ** 2)) * sums.size / max(1, sums.size - 1)
    sd = math.sqrt(max(meat / information**2, 1.0 / information))
    return lean, float(stdtrit(sums.size - 1.0, 1.0 - tail)) * sd
