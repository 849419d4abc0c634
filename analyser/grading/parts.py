"""What the points of a hold are made of: entry, circuits and leaving, each with its weight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from analyser.frozen import dataclass
from analyser.grading.entry_judged import JudgedEntry
from analyser.grading.score import mean_points
from analyser.grading.timing import Leaving
from analyser.rules.scoring import Scoring


@dataclass(frozen=True)
class Part:
    """One part of the hold's points.

    Attributes
    ----------
    kind : "entry", "circuit" or "leaving"
    circuit : int or None
        Its number; None for the others.
    points : float or None
        None where not judged.
    weight : float
        What it counts: the rule's weight times the share of the circuit that was judged.
    unjudged : float
        What was left of the rule's weight.
    """

    kind: Literal["entry", "circuit", "leaving"]
    circuit: int | None
    points: float | None
    weight: float
    unjudged: float = 0.0


def parts_of(
    circuits: Sequence[tuple[int, float | None, float]],
    entry: JudgedEntry | None,
    leaving: Leaving | None,
    scoring: Scoring,
) -> tuple[Part, ...]:
    """Weigh the parts of a hold.

    Parameters
    ----------
    circuits : sequence of (number, points, share of its weight that was judged)

    Returns
    -------
    tuple of Part
        In order of flight.
    """
    weights, parts = scoring.parts, []
    for k, (number, points, share) in enumerate(circuits):
        # Without the entry in the log nobody knows which circuit was the measuring one.
        weight = weights.measuring_circuit if k == 0 and entry is not None else weights.circuit
        parts.append(Part("circuit", number, points, weight * share, weight * (1.0 - share)))
    if entry is not None:
        # An entry is not a hold: it counts no more than the circuits that follow it.
        most = min(weights.entry, sum(part.weight for part in parts)) if parts else weights.entry
        parts.insert(0, Part("entry", None, entry.points, most))
    if leaving is not None:
        parts.append(Part("leaving", None, leaving.score.points, weights.leaving))
    return tuple(parts)


def points_of(parts: Sequence[Part], scoring: Scoring) -> float | None:
    """Return the hold's points: the weighted mean of its parts.

    Returns
    -------
    float or None
        None where too little was judged, or none of the circuits: an entry is not a hold.
    """
    circuits = [part.points for part in parts if part.kind == "circuit"]
    if circuits and all(points is None for points in circuits):
        return None
    # What of a circuit was not judged stays in the sum of weights, so that it can be too little.
    weighed = [(part.points, part.weight) for part in parts]
    weighed += [(None, part.unjudged) for part in parts]
    return mean_points(weighed, scoring.parts.least_judged)
