"""What stands first of a hold: its worst finding and what to work on; and the debrief in steps for a projector."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.grading.finding import PERHAPS_UNSAFE
from analyser.grading.wording import sentence
from analyser.pages import captions
from analyser.pages.circuit_views import CircuitView, folded_together, main_cause
from analyser.pages.pictures import Picture, step_picture
from analyser.pages.subject import Subject
from analyser.pages.words import heading, missing, points_or_not, quantity, turnable
from analyser.summary import foremost

if TYPE_CHECKING:
    from analyser.pages.figures.canvas import Canvas
    from analyser.schema.debrief_file import WrittenFinding, WrittenHold

#: Where an advice goes on to the rule by which the figure is found in another wind.
_RULE = re.compile(r"(?<=[.!?])\s+(?=(?:The rule|Rule)\b)")


@dataclass(frozen=True)
class ShownFinding:
    """One finding, ready for the page."""

    label: str
    sentence: Markup
    advice: Markup | None
    cost_points: float


@dataclass(frozen=True)
class Opening:
    """The first screen's words: the worst finding, the next worst beside it, all of them, what to do.

    ``work_why`` is what else is said of the work, ``notes`` what holds the points or the grade down, and ``circuit``
    the one that the first finding speaks of: the plan shows that one.
    """

    first: ShownFinding | None
    beside: tuple[ShownFinding, ...]
    findings: tuple[ShownFinding, ...]
    work_on_first: Markup | None
    work_why: Markup | None
    notes: tuple[Markup, ...]
    circuit: int | None


def opening(document: WrittenHold) -> Opening:
    """Read the first screen from a hold's findings."""
    found, variation = document.findings, document.variation
    spoken_of = [course for one in found for course in one.directions_true]
    said = tuple(_said(one, variation) for one in found)
    work = document.work_on_first or ""
    do, *why = _RULE.split(work, maxsplit=1)
    foremost_said = [_said(one, variation) for one in foremost(document)]
    # A finding that praises does not point at a circuit's fault: the whole hold is shown then.
    pointed = found[0].circuits if found and found[0].severity != "good" else []
    return Opening(
        foremost_said[0] if foremost_said else None,
        tuple(foremost_said[1:]),
        said,
        turnable(do, variation, spoken_of) if do else None,
        turnable(why[0], variation, spoken_of) if why else None,
        tuple(turnable(note, variation) for note in _notes(document)),
        pointed[0] if pointed else None,
    )


def _notes(document: WrittenHold) -> list[str]:
    capped = document.capped.sentence if document.capped else ""
    return [sentence(said) for said in (capped, document.ungraded) if said]


def label_of(one: WrittenFinding) -> str:
    """Return a finding's severity; ``"not judged"``: that a log is too coarse is nothing to improve.

    ``"perhaps unsafe"`` stands where more was too near to tell.
    """
    if one.kind in PERHAPS_UNSAFE and one.severity != "unsafe":
        return "perhaps unsafe"
    return "not judged" if one.kind == "not judged" else one.severity


def _said(one: WrittenFinding, variation: float | None) -> ShownFinding:
    def words(text: str) -> Markup:
        return turnable(text, variation, one.directions_true)

    advice = words(one.advice) if one.advice else None
    return ShownFinding(label_of(one), words(one.sentence), advice, one.cost_points or 0.0)


@dataclass(frozen=True)
class Step:
    """One idea, shown large; the last step has the numbers to fly, each with its words."""

    title: str
    says: Markup | str
    picture: Picture | None = None
    numbers: tuple[tuple[str, Markup], ...] = ()


def show_steps(
    subject: Subject, map_canvas: Canvas, opening: Opening, circuits: list[CircuitView]
) -> list[Step]:
    """Put the steps of one hold in order; they draw the plan view's lines again."""
    shown = [c.doc.number for c in circuits if c.opened or not folded_together(circuits)]
    steps = []
    if circuits:
        over = " over the exact one" if subject.exact else ""
        names = f"Circuit{'s' if len(shown) > 1 else ''} {', '.join(map(str, shown))}{over}."
        whole = step_picture(subject, map_canvas, shown, names)
        said = opening.first.sentence if opening.first else Markup("Nothing was judged.")
        steps.append(Step("The flight", said, whole))
    for circuit in circuits:
        steps += _of_circuit(subject, map_canvas, circuit)
    return [*steps, _next_time(subject.document, opening, circuits)]


def _of_circuit(subject: Subject, map_canvas: Canvas, circuit: CircuitView) -> list[Step]:
    came_out = captions.circuit(circuit.doc)
    cause = main_cause(circuit.doc)
    words = f"{came_out} Main cause: {captions.cause_words(cause)}." if cause else came_out
    drawn = step_picture(subject, map_canvas, [circuit.doc.number], f"Circuit {circuit.doc.number}. {words}")
    steps = [Step(f"Circuit {circuit.doc.number}: {points_or_not(circuit.doc.points)}", words, drawn)]
    again = next((way for way in circuit.doc.reflown if way.cause == cause), None)
    if cause is None or again is None:
        return steps
    off_nm, right = again.rollout.cross_track_nm, f"with the {captions.cause_words(cause)} right"
    said = (
        "Roll-out not known."
        if off_nm is None
        else f"It would have rolled out {captions.rollout_words(off_nm)}."
    )
    says = f"Circuit {circuit.doc.number}, flown again {right}. {said}"
    better = step_picture(subject, map_canvas, [circuit.doc.number], says, cause)
    title = f"Circuit {circuit.doc.number} again, {right}"
    return [*steps, Step(title, said, better)]


def _next_time(document: WrittenHold, opening: Opening, circuits: list[CircuitView]) -> Step:
    """Say what to fly next time: the exact circuit of the last circuit that has one."""
    exact = next((c.doc.ideal for c in reversed(circuits) if c.doc.ideal.closes), None)
    says = opening.work_on_first or Markup("Nothing stands out to work on first.")
    if exact is None or exact.outbound_timed_s is None or exact.outbound_time_s is None:
        return Step("Next time", says, None, (("Numbers", missing("not known from this flight")),))
    variation = document.variation
    timed_s, level_s = exact.outbound_timed_s, exact.outbound_time_s
    numbers = (
        ("Outbound heading", heading(exact.outbound_heading_true, variation)),
        ("Outbound, by the clock", quantity(timed_s, "s")),
        # Where abeam is not where the wings come level, the findings may speak of either time.
        *((("From wings level", quantity(level_s, "s")),) if round(timed_s) != round(level_s) else ()),
        ("Inbound heading", heading(exact.inbound_heading_true, variation)),
        ("Bank", quantity(exact.bank, "°")),
    )
    return Step("Next time, in the same wind", says, None, numbers)
