"""The airspace part of the debrief file: outlines thinned for drawing, shares, margins and words."""

from __future__ import annotations

from typing import Any

import numpy as np

from analyser.airspace.excursion import AirspaceReport, Edge
from analyser.airspace.holding_area import HoldingArea
from analyser.airspace.obstacles import MinimumLevel, ObstacleClearance
from analyser.airspace.sentences import (
    CAUTION,
    NOT_FAA,
    SIMPLIFIED,
    area_sentence,
    inside_sentence,
    level_sentences,
    speed_sentence,
    verdict_sentences,
)
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.schema.debrief_file import (
    WrittenAirspace,
    WrittenArea,
    WrittenAreaLevel,
    WrittenAreaSpeed,
    WrittenBuffer,
    WrittenDoubt,
    WrittenEdge,
    WrittenMinimumLevel,
    WrittenObstacle,
    WrittenOutline,
)

#: Outlines are thinned to within this of themselves, nautical miles: less than a drawn line's width.
_THIN_NM = 0.03


def written_airspace(
    report: AirspaceReport,
    area: HoldingArea,
    hold: Hold,
    *,
    rules: str = "icao",
    cause: str | None = None,
    level: MinimumLevel | None = None,
) -> WrittenAirspace:
    """Write the airspace part of one hold.

    Parameters
    ----------
    area : HoldingArea
        In the hold's frame.
    hold : Hold
        Gives place and course.
    rules : "icao" or "faa"
        Whose rules the hold was flown by.
    cause : str, optional
        What in the error budget took the flight furthest out, as a noun phrase.
    level : MinimumLevel, optional
        Where an obstacle file was given.
    """
    return WrittenAirspace.of(
        report,
        caution=CAUTION,
        not_faa=NOT_FAA if rules == "faa" else None,
        simplified=SIMPLIFIED,
        said=(inside_sentence(report), speed_sentence(report), area_sentence(area)),
        first=tuple(verdict_sentences(report, cause)),
        deepest=_edge(report.deepest),
        cause=cause if report.deepest is not None else None,
        entry=_edge(report.entry),
        circuits=tuple(map(_edge, report.circuits)),
        doubt_nm=WrittenDoubt(circuit=report.circuit_doubt_nm, entry=report.entry_doubt_nm),
        speed=WrittenAreaSpeed.of(report.speed, area_valid=report.speed.kept),
        level=WrittenAreaLevel.of(report.level),
        minimum_level=None if level is None else written_level(level, report.level.lowest_ft),
        area=_area(area, hold),
    )


def _area(area: HoldingArea, hold: Hold) -> WrittenArea:
    """Write what an area, in the hold's frame, was drawn for and its outlines."""
    figures = area.figures
    outlines = {"fix": area.fix, "template": area.template, "area": area.area, "entry_area": area.entry_area}
    return WrittenArea.of(
        figures,
        minutes=None if figures.distance_nm is not None else figures.outbound_s / 60.0,
        fix_tolerance=area.fix_tolerance.kind,
        clearance_ft=area.clearance_ft,
        outlines={name: _outline(shape, hold) for name, shape in outlines.items()},
        buffer=tuple(WrittenBuffer.of(band, outline=_outline(band.outline, hold)) for band in area.buffers),
    )


def written_level(level: MinimumLevel, lowest_ft: float | None = None) -> WrittenMinimumLevel:
    """Write a minimum level.

    Parameters
    ----------
    lowest_ft : float, optional
        The lowest altitude flown in the hold.
    """
    below = None if level.level_ft is None or lowest_ft is None else lowest_ft < level.level_ft
    return WrittenMinimumLevel.of(
        level,
        caution=CAUTION,
        controlling=_asked(level.controlling),
        if_nearer_nm=level.nearer_nm,
        if_nearer=_asked(level.if_nearer),
        lowest_flown_ft=lowest_ft,
        flown_below=below,
        said=tuple(level_sentences(level, lowest_ft)),
    )


def _asked(asked: ObstacleClearance | None) -> WrittenObstacle | None:
    if asked is None:
        return None
    obstacle = asked.obstacle
    return WrittenObstacle.of(
        asked, obstacle, lat=obstacle.lat_deg, lon=obstacle.lon_deg, buffer_step=asked.band or None
    )


def _edge(edge: Edge | None) -> WrittenEdge | None:
    if edge is None:
        return None
    return WrittenEdge.of(
        edge,
        lat=edge.lat_deg,
        lon=edge.lon_deg,
        phase=edge.phase.name,
        circuit=edge.phase.circuit,
        buffer_step=edge.buffer_band,
    )


def _outline(shape: Any, hold: Hold) -> WrittenOutline:
    """Outer boundary of a shape, in the hold's frame and on the earth."""
    thin = shape.simplify(_THIN_NM)
    corners = np.asarray((thin.exterior if hasattr(thin, "exterior") else thin).coords, float)
    course = np.radians(hold.inbound_course_true_deg)
    along, cross = corners[:, 0], corners[:, 1]
    lat, lon = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg).to_earth(
        along * np.sin(course) + cross * np.cos(course), along * np.cos(course) - cross * np.sin(course)
    )
    return WrittenOutline(
        along_cross_nm=tuple((round(float(a), 2), round(float(c), 2)) for a, c in corners),
        lat_lon=tuple((round(float(a), 4), round(float(o), 4)) for a, o in zip(lat, lon, strict=True)),
    )
