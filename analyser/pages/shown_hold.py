"""Everything the template says about one hold: its sections, their order, and the result that each heading says."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages import pictures
from analyser.pages.captions import wind_words
from analyser.pages.circuit_views import (
    COLUMNS,
    CircuitView,
    Judged,
    ScoreCell,
    circuit_rows,
    circuit_views,
    put_together,
)
from analyser.pages.figures.views import plan
from analyser.pages.opening import Opening, Step, opening, show_steps
from analyser.pages.replay_data import replay
from analyser.pages.section_views import (
    AirspaceView,
    LeavingView,
    airspace_view,
    course_words,
    disagreement,
    leaving_view,
    variation_words,
)
from analyser.pages.subject import PHASES, PhaseLine, subject_of
from analyser.pages.words import heading, missing, number, quantity
from analyser.rules.graded_items import SECTIONS, item_of

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.schema.debrief_file import (
        WrittenCircuit,
        WrittenHold,
        WrittenLeg,
        WrittenRules,
        WrittenScorePart,
        WrittenStandard,
    )


@dataclass(frozen=True)
class SourceRow:
    """One item: where its target and tolerance come from, and on which circuits; on all where none is named."""

    title: str
    rule: str
    circuits: tuple[int, ...]


@dataclass(frozen=True)
class Section:
    """One folded section: its template's key, its title and the result beside it; opened on paper where ``printed``."""

    key: str
    title: str
    result: Markup
    printed: bool


@dataclass(frozen=True)
class ShownHold:
    """What the template ``hold.html`` shows of one hold.

    ``number`` counts from 1 in order of time, ``parts`` are what the points are the mean of, ``obtained`` says how each
    quantity was come by, ``entry`` has the scored items of a parallel or offset entry, ``replay`` is for the script.
    """

    number: int
    doc: WrittenHold
    opening: Opening
    pictures: dict[str, Any]
    legend: list[PhaseLine]
    circuits: list[CircuitView]
    rows: list[tuple[WrittenCircuit, list[ScoreCell]]]
    rules: WrittenRules
    standard: WrittenStandard
    variation_words: str
    obtained: Mapping[str, str]
    entry: list[Judged]
    leaving: LeavingView | None
    airspace: AirspaceView | None
    steps: list[Step]
    replay: dict[str, Any]
    course: Markup
    leg: Markup
    disagreement: str | None
    put_together: list[CircuitView]
    parts: list[str]
    thumbs: WrittenCircuit | None
    sources: list[SourceRow]
    columns = COLUMNS

    @property
    def variation(self) -> float | None:
        """Magnetic variation, east positive."""
        return self.doc.variation

    @property
    def sections(self) -> list[Section]:
        """The folded sections that this hold has, with each one's result."""
        # What is too long for two sheets of paper stays folded there.
        long = {"learning": len(self.doc.learning) > 10, "numbers": len(self.rows) > 20}
        told = [(one, _RESULTS[one.key](self)) for one in SECTIONS]
        return [
            Section(one.key, one.title, Markup("{}").format(result), one.printed and not long.get(one.key))
            for one, result in told
            if result is not None
        ]


def hold_view(
    hold: HoldDebrief,
    doc: WrittenHold,
    order: int,
    *,
    rules: WrittenRules,
    standard: WrittenStandard,
    start: datetime | None,
) -> ShownHold:
    """Gather what the template shows of one hold: ``order`` counts from 1, ``start`` is the log's."""
    subject = subject_of(hold, doc, order)
    map_canvas = plan(subject)
    shown = pictures.hold_pictures(subject, map_canvas)
    circuits = circuit_views(doc)
    first = opening(doc)
    entry = doc.entry
    scores = [] if entry is None else [("angle", entry.angle), ("time", entry.time)]
    return ShownHold(
        number=order,
        doc=doc,
        opening=first,
        pictures=shown,
        legend=[phase for key, phase in PHASES.items() if any(span.phase == key for span in subject.spans)],
        circuits=circuits,
        rows=circuit_rows(doc.circuits, doc.variation),
        rules=rules,
        standard=standard,
        variation_words=variation_words(doc, start),
        obtained=hold.flown.motion.obtained,
        entry=[Judged(item_of(key), score) for key, score in scores if score is not None],
        leaving=leaving_view(doc, subject.ids),
        airspace=airspace_view(subject, map_canvas),
        steps=show_steps(subject, map_canvas, first, circuits),
        replay=replay(subject, _with_cursor(shown), first.circuit),
        course=course_words(doc),
        leg=leg_words(doc.leg),
        disagreement=disagreement(doc),
        put_together=put_together(circuits),
        parts=[score_part(part) for part in doc.scoring.parts if part.points is not None],
        thumbs=next((one for one in reversed(doc.circuits) if one.rules_of_thumb), None),
        sources=_sources_of(doc),
    )


def _with_cursor(shown: dict[str, Any]) -> dict[str, pictures.Picture]:
    moving = {name: shown[name] for name in ("plan", "air", "side") if shown[name] is not None}
    return moving | {f"strip-{key}": picture for key, picture in shown["strips"]}


def _sources_of(doc: WrittenHold) -> list[SourceRow]:
    """Return a row for each item and rule that any circuit was judged by."""
    seen: dict[tuple[str, str], list[int]] = {}
    for circuit in doc.circuits:
        for key, score in circuit.all_scores.items():
            if score.rule:
                seen.setdefault((key, score.rule), []).append(circuit.number)
    every = len(doc.circuits)
    return [
        SourceRow(item_of(key).title, rule, () if len(where) == every else tuple(where))
        for (key, rule), where in seen.items()
    ]


def score_part(part: WrittenScorePart) -> str:
    """Say a part of the hold's score with what it counts: ``"circuit 1 58 (counts 0.5)"``."""
    name = part.part if part.circuit is None else f"circuit {part.circuit}"
    counts = "" if round(part.weight, 2) == 1.0 else f" (counts {part.weight:.2g})"
    return f"{name} {number(part.points or 0.0)}{counts}"


def _findings(view: ShownHold) -> str | None:
    found = view.opening.findings
    labels = [one.label for one in found]
    return ", ".join(f"{labels.count(label)} {label}" for label in dict.fromkeys(labels)) or None


def _numbers(view: ShownHold) -> str:
    outside = sum(item.outside for circuit in view.circuits for item in circuit.counted)
    judged = sum(item.points is not None for circuit in view.circuits for item in circuit.counted)
    return f"{outside} of {judged} judged numbers outside tolerance" if judged else "nothing was judged"


def _learning(view: ShownHold) -> str | None:
    rows = view.doc.learning
    return f"{sum(row.is_right for row in rows)} of {len(rows)} corrections were right" if rows else None


def _leaving(view: ShownHold) -> str | None:
    return None if view.leaving is None else view.leaving.finding


def _entry(view: ShownHold) -> Markup | str:
    found = view.doc.entry
    if found is None:
        return missing("the log starts inside the hold")
    said = f"{found.flown}, {found.verdict}"
    return said if found.points is None else f"{said}, {number(found.points)} points"


def _wind(view: ShownHold) -> Markup:
    wind = view.doc.wind
    if wind.from_true is None:
        return missing("not known from this log")
    spread = "" if wind.sd_kt is None else f" ±{2 * wind.sd_kt:.1f}"
    said = wind_words(view.doc)
    # The spread belongs to the speed: before its unit.
    return Markup("{}{}, from {}").format(Markup(said.removesuffix(" kt")), f"{spread} kt", wind.source)


def _thumbs(view: ShownHold) -> str | None:
    if view.thumbs is None:
        return None
    rows = view.thumbs.rules_of_thumb
    return f"{sum(row.good for row in rows)} of {len(rows)} hold in this wind"


def _airspace(view: ShownHold) -> str | None:
    if view.airspace is None:
        return None
    margins = [edge.margin_nm for edge in view.airspace.doc.edges]
    if not margins:
        return "not measured"
    least = min(margins)
    if least >= 0:
        return f"inside the drawn area, {number(least, 2)} NM to spare"
    return f"outside the drawn area by {number(-least, 2)} NM"


def _detail(view: ShownHold) -> Markup:
    doc = view.doc
    return Markup("{} inbound, {}-hand, {}, {}").format(
        heading(doc.inbound_course_true, view.variation),
        doc.turns,
        leg_words(doc.leg),
        quantity(doc.level_ft, "ft") if doc.level_ft is not None else missing("height not known"),
    )


def leg_words(leg: WrittenLeg) -> Markup:
    """Say the length of the legs: ``"1 min legs"``."""
    if leg.minutes is not None:
        return Markup(f"{leg.minutes:g} min legs")
    return missing("leg not known") if leg.distance_nm is None else Markup(f"{leg.distance_nm:g} NM legs")


def _grade_sheet(view: ShownHold) -> str:
    grade = view.doc.grade
    return "no grade proposed" if grade is None else f"proposed grade {grade}; the instructor's is the grade"


def _sources(view: ShownHold) -> str:
    return f"{view.rules.document}; {view.standard.name}"


#: What the heading of each section says while it is folded; None where the hold has no such section.
_RESULTS: dict[str, Callable[[ShownHold], Markup | str | None]] = {
    "findings": _findings,
    "numbers": _numbers,
    "learning": _learning,
    "leaving": _leaving,
    "entry": _entry,
    "wind": _wind,
    "thumbs": _thumbs,
    "airspace": _airspace,
    "detail": _detail,
    "grade_sheet": _grade_sheet,
    "sources": _sources,
}
