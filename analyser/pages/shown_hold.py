"""Everything that the template ``hold.html`` shows of one hold."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

from markupsafe import Markup

from analyser.pages import pictures
from analyser.pages.circuit_views import COLUMNS, Judged, circuit_rows, circuit_views, put_together
from analyser.pages.figures.airspace import OUTLINES, Outline, airspace
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.charts import leaving
from analyser.pages.figures.svg import part_id, used
from analyser.pages.figures.views import plan
from analyser.pages.opening import opening, show_steps
from analyser.pages.replay_data import replay
from analyser.pages.section_views import (
    course_words,
    disagreement,
    leaving_words,
    leg_words,
    sections,
    thumbs_circuit,
    variation_words,
)
from analyser.pages.subject import PHASES, AreaParts, Subject, subject_of
from analyser.pages.words import number, turnable
from analyser.rules.graded_items import item_of

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.schema.debrief_file import WrittenDebrief, WrittenHold, WrittenScorePart


class SourceRow(NamedTuple):
    """One item: where its target and tolerance come from, and on which circuits; on all where none is named."""

    title: str
    rule: str
    circuits: tuple[int, ...]


def hold_view(
    hold: HoldDebrief, document: WrittenDebrief, order: int, start: datetime | None
) -> dict[str, Any]:
    """Gather what the template shows of one hold, which ``order`` counts from 1; the log begins at ``start``."""
    doc = document.holds[order - 1]
    subject = subject_of(hold, doc, order)
    map_canvas = plan(subject)
    drawn = pictures.hold_pictures(subject, map_canvas)
    drawn |= {"leaving": _leaving(doc, subject.ids), "airspace": _airspace(subject, map_canvas)}
    circuits, first = circuit_views(doc), opening(doc)
    scores = [] if doc.entry is None else [("angle", doc.entry.angle), ("time", doc.entry.time)]
    return {
        "number": order,
        "doc": doc,
        "variation": doc.variation,
        "opening": first,
        "pictures": drawn,
        "legend": [line for key, line in PHASES.items() if any(span.phase == key for span in subject.spans)],
        "outlines": _outlines(subject.area),
        "circuits": circuits,
        "put_together": put_together(circuits),
        "columns": COLUMNS,
        "rows": circuit_rows(doc.circuits, doc.variation),
        "parts": [score_part(part) for part in doc.scoring.parts if part.points is not None],
        "sections": sections(doc, document),
        # The scored items of a parallel or offset entry.
        "entry": [Judged(item_of(key), score) for key, score in scores if score is not None],
        "leaving": None if doc.leaving is None else leaving_words(doc.leaving, doc.start_s),
        "thumbs": thumbs_circuit(doc),
        "sources": _sources_of(doc),
        "course": course_words(doc),
        "leg": leg_words(doc.leg),
        "disagreement": disagreement(doc),
        "variation_words": variation_words(doc, start),
        "obtained": hold.flown.motion.obtained,
        "steps": show_steps(subject, map_canvas, first, circuits),
        "replay": replay(subject, _with_cursor(drawn), first.circuit),
    }


def _with_cursor(drawn: dict[str, Any]) -> dict[str, pictures.Picture]:
    moving = {name: drawn[name] for name in ("plan", "air", "side") if drawn[name] is not None}
    return moving | {f"strip-{key}": picture for key, picture in drawn["strips"]}


def _leaving(doc: WrittenHold, ids: str) -> pictures.Picture | None:
    """Draw when to turn in to leave on time, where a time was given."""
    found = doc.leaving
    if found is None:
        return None
    rows, to_go_s = found.turn_in, found.plans[-1].to_go_s if found.plans else None
    canvas = leaving(
        [row.turn_in_after_s for row in rows], [row.back_after_s for row in rows], to_go_s, _last_flown(doc)
    )
    said = leaving_words(found, doc.start_s)
    return pictures.picture(canvas, "Turn in then, be back then", said, "leaving", f"{ids}-leaving")


def _last_flown(doc: WrittenHold) -> tuple[float, float] | None:
    """When the last circuit turned in and came back, after leaving the fix."""
    for circuit in reversed(doc.circuits):
        if circuit.inbound_turn and circuit.complete:
            start = circuit.start_s
            return circuit.inbound_turn.start_s - start, circuit.end_s - start
    return None


def _airspace(subject: Subject, map_canvas: Canvas) -> pictures.Picture | None:
    """Draw the holding area, where there is one; the drawing uses the plan view's lines."""
    parts, found = subject.area, subject.document.airspace
    if parts is None or found is None:
        return None
    canvas = airspace(parts, subject.series, subject.spans, subject.document.inbound_course_true)
    numbers = sorted({span.circuit for span in subject.spans if span.in_hold})
    lines = [f"{subject.ids}-airspace", *(part_id(subject.ids, "flown", number) for number in numbers)]
    under = Markup("").join(used(line, map_canvas, canvas) for line in lines)
    finding = turnable(f"{found.said[0]} {found.caution}", subject.variation)
    return pictures.picture(canvas, "Holding area", finding, "airspace", f"{subject.ids}-area", under=under)


def _outlines(parts: AreaParts | None) -> list[Outline]:
    """Return the key to the outlines that are drawn."""
    if parts is None:
        return []
    shown = {name for name, outline in parts.outlines.items() if outline[0].size > 2} | {"buffer"}
    if "fix" not in shown:
        # Round a single point the template is the area itself.
        shown.discard("template")
    return [outline for name, outline in OUTLINES.items() if name in shown]


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
