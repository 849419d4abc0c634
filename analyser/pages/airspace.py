"""What the page says and draws of one hold's airspace, from the debrief document."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.holds.circuit_path import to_east_north
from analyser.pages.figures.airspace import airspace
from analyser.pages.figures.area import OUTLINES, AreaParts
from analyser.pages.legend import LegendLine, line_sample

if TYPE_CHECKING:
    from analyser.pages.pictures import Subject


def area_parts(document: Mapping[str, Any]) -> AreaParts | None:
    """Lay the document's outlines on the map.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    AreaParts or None
        None where the document has no airspace.
    """
    found = document.get("airspace")
    if not found:
        return None
    course = document["inbound_course_true"]

    def on_map(along_cross: Any) -> tuple[Any, Any]:
        points = np.asarray(along_cross, float).reshape(-1, 2)
        return to_east_north(points[:, 0], points[:, 1], course)

    area, deepest = found["area"], found["deepest"]
    place = None
    if deepest is not None:
        east, north = on_map([[deepest["along_nm"], deepest["cross_nm"]]])
        place = (float(east[0]), float(north[0]))
    return AreaParts(
        {name: on_map(outline["along_cross_nm"]) for name, outline in area["outlines"].items()},
        [(on_map(band["outline"]["along_cross_nm"]), band["clearance_ft"]) for band in area["buffer"]],
        area["clearance_ft"],
        place,
    )


def airspace_view(subject: Subject) -> dict[str, Any] | None:
    """Gather what the template shows.

    Parameters
    ----------
    subject : Subject

    Returns
    -------
    dict or None
        None where the document has no airspace.
    """
    from analyser.pages.pictures import picture

    parts = area_parts(subject.document)
    if parts is None:
        return None
    found = subject.document["airspace"]
    sheet = airspace(parts, subject.series, subject.spans, subject.document["inbound_course_true"])
    finding = f"{found['said'][0]} {found['caution']}"
    return {
        "doc": found,
        "picture": picture(sheet, "Holding area", finding, "airspace"),
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
