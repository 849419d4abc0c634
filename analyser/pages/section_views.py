"""What single sections of a hold's page show: how it is defined, how it was entered and left, and its holding area."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.earth.variation import magnetic_variation
from analyser.frozen import dataclass
from analyser.pages.figures.airspace import OUTLINES, Outline, airspace
from analyser.pages.figures.canvas import Canvas
from analyser.pages.figures.charts import leaving
from analyser.pages.figures.svg import part_id, used
from analyser.pages.pictures import Picture, picture
from analyser.pages.subject import AreaParts, Subject
from analyser.pages.words import clock, heading, number, turnable

if TYPE_CHECKING:
    from analyser.schema.debrief_file import (
        WrittenAirspace,
        WrittenHold,
        WrittenLeaving,
    )


_DEFINED = {"given": "as given", "inferred": "inferred", "partly given": "partly given, the rest inferred"}


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


@dataclass(frozen=True)
class LeavingView:
    """Leaving, ready for the page."""

    finding: str
    doc: WrittenLeaving
    picture: Picture


def leaving_view(document: WrittenHold, ids: str) -> LeavingView | None:
    """Gather what the page says of leaving on time, where a time was given; its drawing's ids begin with ``ids``."""
    found = document.leaving
    if found is None:
        return None
    finding = _finding(found.leave_at_s, found.left_s, document.start_s)
    canvas = leaving(
        [row.turn_in_after_s for row in found.turn_in],
        [row.back_after_s for row in found.turn_in],
        found.plans[-1].to_go_s if found.plans else None,
        _flown(document),
    )
    return LeavingView(
        finding,
        found,
        picture(canvas, "Turn in then, be back then", finding, "leaving", f"{ids}-leaving"),
    )


def _finding(leave_at_s: float, left_s: float | None, start_s: float) -> str:
    wanted = f"Wanted over the fix at {clock(leave_at_s - start_s)}"
    if left_s is None:
        return f"{wanted}; it was not passed again."
    late = left_s - leave_at_s
    words = "on the second" if abs(late) < 0.5 else f"{number(abs(late))} s {'late' if late > 0 else 'early'}"
    return f"{wanted}, left at {clock(left_s - start_s)}: {words}."


def _flown(document: WrittenHold) -> tuple[float, float] | None:
    """When the last circuit turned in and came back, after leaving the fix."""
    for circuit in reversed(document.circuits):
        if circuit.inbound_turn and circuit.complete:
            start = circuit.start_s
            return circuit.inbound_turn.start_s - start, circuit.end_s - start
    return None


@dataclass(frozen=True)
class AirspaceView:
    """The holding area: what the document says of it, the drawing and its key."""

    doc: WrittenAirspace
    picture: Picture
    key: list[Outline]


def airspace_view(subject: Subject, map_canvas: Canvas) -> AirspaceView | None:
    """Gather what the page says of the holding area, where there is one; the drawing uses the plan view's lines."""
    parts, found = subject.area, subject.document.airspace
    if parts is None or found is None:
        return None
    canvas = airspace(parts, subject.series, subject.spans, subject.document.inbound_course_true)
    numbers = sorted({span.circuit for span in subject.spans if span.in_hold})
    lines = [f"{subject.ids}-airspace", *(part_id(subject.ids, "flown", number) for number in numbers)]
    under = Markup("").join(used(line, map_canvas, canvas) for line in lines)
    finding = turnable(f"{found.said[0]} {found.caution}", subject.variation)
    drawn = picture(canvas, "Holding area", finding, "airspace", f"{subject.ids}-area", under=under)
    return AirspaceView(found, drawn, _key(parts))


def _key(parts: AreaParts) -> list[Outline]:
    shown = {name for name, outline in parts.outlines.items() if outline[0].size > 2} | {"buffer"}
    if "fix" not in shown:
        # Round a single point the template is the area itself.
        shown.discard("template")
    return [outline for name, outline in OUTLINES.items() if name in shown]
