"""The circuits of a hold one by one: which are shown opened, what each one's line says, what cost what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages import pictures
from analyser.pages.captions import cause_words
from analyser.pages.map_paths import ReflownChoice
from analyser.pages.markup import turnable
from analyser.pages.score_rows import Judged, judged
from analyser.schema.debrief_file import WrittenCircuit, WrittenHold, WrittenShare

#: With up to so many circuits each has a line of its own; of more the rest is put behind one line.
_EACH = 6


@dataclass(frozen=True)
class CircuitView:
    """One circuit, ready for the page.

    Attributes
    ----------
    doc : WrittenCircuit
    number : int
    points : float or None
    opened : bool
    line : Markup
        What its folded line says.
    counted : list of Judged
        The items that carry points, in order.
    judged : list of Judged
        These and what is shown beside them.
    waterfalls : list of Picture
    advice : list of Markup
        The most costly fault first.
    no_advice : str
    reflown : list of ReflownChoice
    """

    doc: WrittenCircuit
    number: int
    points: float | None
    opened: bool
    line: Markup
    counted: list[Judged]
    judged: list[Judged]
    waterfalls: list[pictures.Picture]
    advice: list[Markup]
    no_advice: str
    reflown: list[ReflownChoice]


def circuit_views(document: WrittenHold, reflown: Mapping[int, list[ReflownChoice]]) -> list[CircuitView]:
    """Gather what the page says of each circuit of a hold."""
    opened = shown_first(document.circuits)
    return [
        _view(circuit, document.variation, circuit.number in opened, reflown[circuit.number])
        for circuit in document.circuits
    ]


def shown_first(circuits: Sequence[WrittenCircuit]) -> set[int]:
    """Choose the circuits that are shown opened: the worst, the best and the last."""
    judged = [c for c in circuits if c.points is not None]
    chosen = {c.number for c in circuits[-1:]}
    if judged:
        chosen |= {pick(judged, key=lambda c: c.points or 0.0).number for pick in (min, max)}
    return chosen


def put_together(circuits: Sequence[CircuitView]) -> list[CircuitView]:
    """Return the circuits that share one folded line, where there are too many for a line each."""
    return [] if len(circuits) <= _EACH else [one for one in circuits if not one.opened]


def _view(
    circuit: WrittenCircuit, variation: float | None, opened: bool, reflown: list[ReflownChoice]
) -> CircuitView:
    items = [judged(key, score) for key, score in circuit.all_scores.items()]
    advice = circuit_advice(circuit, variation)
    lacking = no_advice(circuit)
    return CircuitView(
        circuit,
        circuit.number,
        circuit.points,
        opened,
        advice[0] if advice else Markup("{}{}").format(lacking[0].upper(), lacking[1:]),
        items[:-1],
        items,
        pictures.waterfall_pictures(circuit),
        advice,
        lacking,
        reflown,
    )


def main_cause(circuit: WrittenCircuit) -> str | None:
    """Return the cause that is advised on first, or None."""
    given = _advised(circuit)
    return given[0].cause if given else None


def circuit_advice(circuit: WrittenCircuit, variation: float | None) -> list[Markup]:
    """Return what was flown and what was right on a circuit, the most costly fault first."""
    return [turnable(one.advice or "", variation, _directions(one)) for one in _advised(circuit)]


def _advised(circuit: WrittenCircuit) -> list[WrittenShare]:
    return sorted((one for one in circuit.error_budget if one.advice), key=lambda share: share.rank or 99)


def no_advice(circuit: WrittenCircuit) -> str:
    """Say why a circuit has no advice.

    Parameters
    ----------
    circuit : WrittenCircuit
        One without advice.

    Returns
    -------
    str
        Why there is no budget, to follow a colon; else a sentence: nothing cost enough, or what cost most is
        nothing to correct.
    """
    if not circuit.error_budget:
        return f"{circuit.error_budget_missing or 'too little of this circuit was flown or recorded'}."
    if not any(score.verdict == "outside" for score in circuit.scores.values()):
        return "No fault cost enough to speak of."
    most = max(circuit.error_budget, key=lambda share: hypot(share.cross_track_nm, share.along_track_nm))
    moved = hypot(most.cross_track_nm, most.along_track_nm)
    return (
        f"No single fault to correct. What moved the roll-out most, by {moved:.2f} NM, was the "
        f"{cause_words(most.cause)}{_WHY_NOT.get(most.cause, '')}."
    )


#: Why what cost most is not advised on.
_WHY_NOT = {
    "rollout_heading": ": it was turned towards the course again, as it should be",
    "wind_change": ", which nobody flies",
    "arrival_heading": ", which came from the entry",
}


def _directions(share: WrittenShare) -> list[float]:
    numbers = [one for one in (share.fly, share.flown) if one is not None and one.reference == "true"]
    return [one.value for one in numbers if one.value is not None]
