"""What the template ``hold.html`` shows of one hold, and the result beside each folded section's title."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from markupsafe import Markup

from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.earth.variation import magnetic_variation
from analyser.pages import pictures
from analyser.pages.captions import wind_words
from analyser.pages.circuit_views import COLUMNS, Judged, circuit_rows, circuit_views, folded_together
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.charts import leaving
from analyser.pages.figures.svg import part_id, used
from analyser.pages.figures.views import OUTLINES, Outline, airspace, lines_round, plan
from analyser.pages.opening import label_of, opening, show_steps
from analyser.pages.subject import PHASES, AreaParts, Subject, replay, subject_of
from analyser.pages.words import clock, heading, missing, number, quantity, turnable
from analyser.rules.graded_items import SECTIONS, item_of
from analyser.rules.load import load_regime

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.schema.debrief_file import (
        WrittenCircuit,
        WrittenDebrief,
        WrittenHold,
        WrittenLeaving,
        WrittenLeg,
        WrittenScorePart,
    )


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
    drawn |= {
        "leaving": _leaving_picture(doc, subject.ids),
        "airspace": _airspace_picture(subject, map_canvas),
    }
    circuits, first = circuit_views(doc), opening(doc)
    scores = [] if doc.entry is None else [("angle", doc.entry.angle), ("time", doc.entry.time)]
    return {
        "number": order,
        "doc": doc,
        "opening": first,
        "pictures": drawn,
        "legend": [line for key, line in PHASES.items() if any(span.phase == key for span in subject.spans)],
        "outlines": _outlines(subject.area),
        "circuits": circuits,
        "folded_together": folded_together(circuits),
        "columns": COLUMNS,
        "rows": circuit_rows(doc.circuits, doc.variation),
        "parts": [score_part(part) for part in doc.scoring.parts if part.points is not None],
        "sections": sections(doc, document),
        "zone": load_regime(doc.rules).entry.zone_deg,
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
        "replay": replay(subject, _maps(drawn), first.circuit),
    }


def _maps(drawn: dict[str, Any]) -> dict[str, dict[str, float]]:
    """Return how the script puts its cursor on those pictures that carry one."""
    maps = {name: drawn[name].mapping for name in ("plan", "air", "side") if drawn[name] is not None}
    return maps | {f"strip-{key}": picture.mapping for key, picture in drawn["strips"]}


def _leaving_picture(doc: WrittenHold, ids: str) -> pictures.Picture | None:
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


def _airspace_picture(subject: Subject, map_canvas: Canvas) -> pictures.Picture | None:
    """Draw the holding area, where there is one; the drawing uses the plan view's lines."""
    parts, found = subject.area, subject.document.airspace
    if parts is None:
        return None
    assert found is not None, "its outlines are the document's"
    canvas = airspace(parts, subject.series, subject.spans, subject.document.inbound_course_true)
    numbers = sorted({span.circuit for span in subject.spans if span.in_hold})
    lines = [f"{subject.ids}-airspace", *(part_id(subject.ids, "flown", number) for number in numbers)]
    under = Markup("").join(used(line, map_canvas, canvas) for line in lines)
    finding = turnable(f"{found.said[0]} {found.caution}", subject.variation)
    return pictures.picture(canvas, "Holding area", finding, "airspace", f"{subject.ids}-area", under=under)


def _outlines(parts: AreaParts | None) -> list[Outline]:
    """Return the key to the outlines that are drawn."""
    lines = {} if parts is None else lines_round(parts)
    return [outline for name, outline in OUTLINES.items() if name in lines]


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
    """Say a part of the hold's score with what it counts: ``"circuit 1 58 (weight 0.5)"``."""
    name = part.part if part.circuit is None else f"circuit {part.circuit}"
    return f"{name} {number(part.points or 0.0)}{part.weight_words}"


_DEFINED = {"given": "as given", "inferred": "inferred", "partly given": "partly given, the rest inferred"}


class Section(NamedTuple):
    """One folded section: its template's key, its title and the result beside it; opened on paper where ``printed``."""

    key: str
    title: str
    result: Markup
    printed: bool


def sections(hold: WrittenHold, document: WrittenDebrief) -> list[Section]:
    """Return the folded sections that a hold has, with each one's result."""
    # What is too long for two sheets of paper stays folded there.
    long = {"learning": len(hold.learning) > 10, "numbers": len(hold.circuits) > 20}
    told = [(one, _RESULTS[one.key](hold, document)) for one in SECTIONS]
    return [
        Section(one.key, one.title, Markup("{}").format(result), one.printed and not long.get(one.key))
        for one, result in told
        if result is not None
    ]


def _findings(hold: WrittenHold, _: WrittenDebrief) -> str | None:
    labels = [label_of(one) for one in hold.findings]
    return ", ".join(f"{labels.count(label)} {label}" for label in dict.fromkeys(labels)) or None


def _numbers(hold: WrittenHold, _: WrittenDebrief) -> str:
    scores = [score for circuit in hold.circuits for score in circuit.scores.values()]
    outside = sum(score.outside for score in scores)
    judged = sum(score.points is not None for score in scores)
    return f"{outside} of {judged} judged numbers outside tolerance" if judged else "nothing was judged"


def _learning(hold: WrittenHold, _: WrittenDebrief) -> str | None:
    rows = hold.learning
    return f"{sum(row.is_right for row in rows)} of {len(rows)} corrections were right" if rows else None


def _leaving(hold: WrittenHold, _: WrittenDebrief) -> str | None:
    return None if hold.leaving is None else leaving_words(hold.leaving, hold.start_s)


def leaving_words(found: WrittenLeaving, start_s: float) -> str:
    """Say when the fix was to be left and when it was, both from the arrival at ``start_s``."""
    wanted = f"Wanted over the fix at {clock(found.leave_at_s - start_s)}"
    if found.left_s is None:
        return f"{wanted}; it was not passed again."
    late = found.left_s - found.leave_at_s
    words = "on the second" if abs(late) < 0.5 else f"{number(abs(late))} s {'late' if late > 0 else 'early'}"
    return f"{wanted}, left at {clock(found.left_s - start_s)}: {words}."


def _entry(hold: WrittenHold, _: WrittenDebrief) -> Markup | str:
    found = hold.entry
    if found is None:
        return missing("the log starts inside the hold")
    said = f"{found.flown}, {found.verdict}"
    return said if found.points is None else f"{said}, {number(found.points)} points"


def _wind(hold: WrittenHold, _: WrittenDebrief) -> Markup:
    wind = hold.wind
    if wind.from_true is None:
        return missing("not known from this log")
    spread = "" if wind.sd_kt is None else f" ±{2 * wind.sd_kt:.1f}"
    # The spread belongs to the speed: before its unit.
    speed = Markup(wind_words(hold).removesuffix(" kt"))
    return Markup("{}{}, from {}").format(speed, f"{spread} kt", wind.source)


def thumbs_circuit(hold: WrittenHold) -> WrittenCircuit | None:
    """Return the circuit in whose wind rules of thumb are looked at: the last that has them."""
    return next((one for one in reversed(hold.circuits) if one.rules_of_thumb), None)


def _thumbs(hold: WrittenHold, _: WrittenDebrief) -> str | None:
    circuit = thumbs_circuit(hold)
    rows = () if circuit is None else circuit.rules_of_thumb
    return f"{sum(row.good for row in rows)} of {len(rows)} hold in this wind" if rows else None


def _airspace(hold: WrittenHold, _: WrittenDebrief) -> str | None:
    if hold.airspace is None:
        return None
    margins = [edge.margin_nm for edge in hold.airspace.edges]
    if not margins:
        return "not measured"
    least = min(margins)
    if hold.airspace.strayed is None:
        side = "inside" if least >= 0 else "outside"
        return f"cannot be told: {number(abs(least), 2)} NM {side} the drawn area"
    if least >= 0:
        return f"inside the drawn area, {number(least, 2)} NM to spare"
    return f"outside the drawn area by {number(-least, 2)} NM"


def _detail(hold: WrittenHold, _: WrittenDebrief) -> Markup:
    return Markup("{} inbound, {}-hand, {}, {}").format(
        heading(hold.inbound_course_true, hold.variation),
        hold.turns,
        leg_words(hold.leg),
        quantity(hold.level_ft, "ft") if hold.level_ft is not None else missing("height not known"),
    )


def _grade_sheet(hold: WrittenHold, _: WrittenDebrief) -> str:
    grade = hold.grade
    return "no grade proposed" if grade is None else f"proposed grade {grade}; the instructor's is the grade"


def _sources(_: WrittenHold, document: WrittenDebrief) -> str:
    return f"{document.rules.document}; {document.standard.name}"


#: What the heading of each section says while it is folded; None where the hold has no such section.
_RESULTS: dict[str, Callable[[WrittenHold, WrittenDebrief], Markup | str | None]] = {
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


def leg_words(leg: WrittenLeg) -> Markup:
    """Say the length of the legs: ``"1 min legs"``."""
    if leg.minutes is not None:
        return Markup(f"{leg.minutes:g} min legs")
    return missing("leg not known") if leg.distance_nm is None else Markup(f"{leg.distance_nm:g} NM legs")


def course_words(document: WrittenHold) -> Markup:
    """Say the inbound course and how it is known: ``"263°M inbound, inferred ±9°"``, two sigmas."""
    course = heading(document.inbound_course_true, document.variation)
    spread = document.inbound_course_sd
    known = "" if spread is None else f" ±{max(1, round(2 * spread))}°"
    defined = _DEFINED.get(document.definition, document.definition)
    other = document.other_end
    if other is not None:
        end = heading(other.inbound_course_true, document.variation)
        return Markup("{} inbound or, from the other end, {}, course {}").format(course, end, defined)
    if document.definition == "inferred":
        return Markup("{} inbound, course {}{}").format(course, defined, known)
    return Markup("{} inbound{}, {}").format(course, known, defined)


def disagreement(document: WrittenHold) -> str | None:
    """Say how far the flight itself and the given hold disagree; None where one of them says nothing."""
    found, fix = document.inferred, document.fix
    if document.definition != "given" or found is None:
        return None
    plane = LocalPlane(fix.lat, fix.lon)
    east, north, _ = plane.to_plane(np.array([found.fix.lat]), np.array([found.fix.lon]))
    off_nm = float(np.hypot(east, north)[0])
    turned = wrap180(found.inbound_course_true - document.inbound_course_true)
    words = f"fix {number(off_nm, 2)} NM away, "
    if round(abs(turned)) == 0:
        words += "the same course"
    else:
        words += f"course {number(abs(turned))}° further {'right' if turned > 0 else 'left'}"
    if found.turns != document.turns:
        words += f", turns to the {found.turns}"
    return words


def variation_words(document: WrittenHold, start: datetime | None) -> str:
    """Say the variation, and by which model for the day of the log; another than the model's came with the hold."""
    variation = document.variation
    if variation is None:
        return "not known: courses are true"
    side = "E" if variation >= 0 else "W"
    plain = f"{abs(variation):.1f}° {side}"
    if start is None:
        return plain
    fix = document.fix
    model = magnetic_variation(fix.lat, fix.lon, document.altitude_ft or 0.0, start)
    if abs(model.variation_deg - variation) > 0.06:
        return f"{plain}, as given with the hold (the model says {model.said()})"
    return model.said()
