"""The holding area of the debrief document, laid on the map."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from analyser.holds.kinematics import to_east_north
from analyser.pages.figures.area import AreaParts


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
