"""What the page says and draws of one hold's airspace, from the debrief document."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from analyser.pages.figures.airspace import airspace
from analyser.pages.figures.area import OUTLINES, AreaParts
from analyser.pages.figures.sheet import Sheet
from analyser.pages.figures.svg import part_id, used
from analyser.pages.map_paths import area_parts
from analyser.pages.marks import turnable
from analyser.pages.phases import LegendLine, line_sample
from analyser.pages.pictures import Subject, picture


def airspace_view(subject: Subject, map_sheet: Sheet) -> dict[str, Any] | None:
    """Gather what the template shows.

    Parameters
    ----------
    subject : Subject
    map_sheet : Sheet
        The plan view, whose lines the drawing uses.

    Returns
    -------
    dict or None
        None where the document has no airspace.
    """
    parts = area_parts(subject.document)
    if parts is None:
        return None
    found = subject.document["airspace"]
    sheet = airspace(parts, subject.series, subject.spans, subject.document["inbound_course_true"])
    numbers = sorted({span.circuit for span in subject.spans if span.circuit or span.phase == "entry"})
    lines = [f"{subject.ids}-airspace", *(part_id(subject.ids, "flown", number) for number in numbers)]
    under = Markup("").join(used(line, map_sheet, sheet) for line in lines)
    finding = turnable(f"{found['said'][0]} {found['caution']}", subject.variation)
    return {
        "doc": found,
        "picture": picture(sheet, "Holding area", finding, "airspace", f"{subject.ids}-area", under=under),
        "key": _key(parts),
        "rows": [edge for edge in (found["entry"], *found["circuits"]) if edge is not None],
        "shares": _shares(found),
    }


def layer_sample() -> Any:
    """Draw the sample of the layer's line for the key of the plan view."""
    ink, width, dash, _ = OUTLINES["area"]
    return line_sample(ink, width, dash)


def _key(parts: AreaParts) -> list[LegendLine]:
    shown = {name for name, outline in parts.outlines.items() if outline[0].size > 2} | {"buffer"}
    if "fix" not in shown:
        # Round a single point the template is the area itself.
        shown.discard("template")
    return [
        LegendLine(name, words, line_sample(ink, width, dash))
        for name, (ink, width, dash, words) in OUTLINES.items()
        if name in shown
    ]


def _shares(found: Mapping[str, Any]) -> list[tuple[str, str]]:
    named = (("inside", "inside_share"), ("in the buffer", "buffer_share"), ("beyond it", "beyond_share"))
    return [(words, f"{100 * found[key]:.1f} %") for words, key in named if found[key] is not None]
