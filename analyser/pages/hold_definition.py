"""How the hold is defined, how sure that is, and how far the flight itself disagrees."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from analyser.earth.angles import wrap180
from analyser.earth.plane import LocalPlane
from analyser.earth.variation import magnetic_variation
from analyser.pages.marks import heading
from analyser.pages.words import number

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenHold

_DEFINED = {"given": "as given", "inferred": "inferred", "partly given": "partly given, the rest inferred"}


def course_words(document: WrittenHold) -> Markup:
    """Say the inbound course and how it is known: ``"263°M inbound, inferred ±9°"``.

    Returns
    -------
    Markup
        The spread is two sigmas.
    """
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
    """Say how far the flight itself and the given hold disagree.

    Returns
    -------
    str or None
        None where the hold was inferred anyway, or the flight says nothing.
    """
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
    """Say the variation, and by which model and date.

    Parameters
    ----------
    document : WrittenHold
    start : aware datetime or None
        Of the log.

    Returns
    -------
    str
        Where the document's variation is not the model's for the day, it came with the hold.
    """
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
