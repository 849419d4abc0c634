"""The airspace part of a debrief as plain data: outlines thinned for drawing, shares, margins and words."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from analyser.airspace.area import HoldingArea
from analyser.airspace.excursion import AirspaceReport, Edge
from analyser.airspace.obstacles import Asked, MinimumLevel
from analyser.airspace.words import (
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

#: Outlines are thinned to within this of themselves, nautical miles: less than a drawn line's width.
_THIN_NM = 0.03


def airspace_document(
    report: AirspaceReport,
    area: HoldingArea,
    hold: Hold,
    *,
    rules: str = "icao",
    cause: str | None = None,
    level: MinimumLevel | None = None,
) -> dict[str, Any]:
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

    Returns
    -------
    dict
        Ready for JSON; what is not known is None.
    """
    return {
        "caution": CAUTION,
        "not_faa": NOT_FAA if rules == "faa" else None,
        "simplified": list(SIMPLIFIED),
        "said": [inside_sentence(report), speed_sentence(report), area_sentence(area)],
        "first": list(verdict_sentences(report, cause)),
        "strayed": report.strayed,
        "inside_share": _round(report.inside_share, 4),
        "buffer_share": _round(report.buffer_share, 4),
        "beyond_share": _round(report.beyond_share, 4),
        "deepest": _edge(report.deepest),
        "cause": cause if report.deepest is not None else None,
        "entry": _edge(report.entry),
        "circuits": [_edge(edge) for edge in report.circuits],
        "position_sd_nm": _round(report.position_sd_nm, 3),
        "doubt_nm": {
            "circuit": _round(report.circuit_doubt_nm, 2),
            "entry": _round(report.entry_doubt_nm, 2),
        },
        "speed": {
            "limit_kias": _round(report.speed.limit_kias, 1),
            "most_kias": _round(report.speed.most_kias, 1),
            "most_sd_kt": _round(report.speed.most_sd_kt, 1),
            "faster_s": _round(report.speed.faster_s, 1),
            "area_valid": report.speed.kept,
        },
        "level": {name: _round(value, 0) for name, value in asdict(report.level).items()},
        "minimum_level": None if level is None else level_document(level, report.level.lowest_ft),
        "area": area_document(area, hold),
    }


def area_document(area: HoldingArea, hold: Hold) -> dict[str, Any]:
    """Write what an area was drawn for and its outlines.

    Parameters
    ----------
    area : HoldingArea
        In the hold's frame.
    """
    figures = area.figures
    outlines = {"fix": area.fix, "template": area.template, "area": area.area, "entry_area": area.entry_area}
    return {
        "ias_kt": _round(figures.ias_kt, 1),
        "tas_kt": _round(figures.tas_kt, 2),
        "altitude_ft": _round(figures.altitude_ft, 0),
        "isa_deviation_c": _round(figures.isa_deviation_c, 1),
        "wind_kt": _round(figures.wind_kt, 1),
        "turn_rate_dps": _round(figures.turn_rate_dps, 4),
        "radius_nm": _round(figures.radius_nm, 4),
        "minutes": None if figures.distance_nm is not None else _round(figures.outbound_s / 60.0, 3),
        "distance_nm": _round(figures.distance_nm, 3),
        "fix_tolerance": area.fix_tolerance.kind,
        "clearance_ft": area.clearance_ft,
        "outlines": {name: _outline(shape, hold) for name, shape in outlines.items()},
        "buffer": [
            {
                "number": band.number,
                "inner_nm": band.inner_nm,
                "outer_nm": band.outer_nm,
                "clearance_ft": band.clearance_ft,
                "outline": _outline(band.outline, hold),
            }
            for band in area.buffers
        ],
    }


def level_document(level: MinimumLevel, lowest_ft: float | None = None) -> dict[str, Any]:
    """Write a minimum level.

    Parameters
    ----------
    lowest_ft : float, optional
        The lowest altitude flown in the hold.
    """
    below = None if level.level_ft is None or lowest_ft is None else lowest_ft < level.level_ft
    return {
        "caution": CAUTION,
        "level_ft": level.level_ft,
        "high_terrain": level.high_terrain,
        "controlling": _asked(level.controlling),
        "if_nearer_nm": level.nearer_nm,
        "if_nearer": _asked(level.if_nearer),
        "counted": level.counted,
        "read": level.read,
        "lowest_flown_ft": _round(lowest_ft, 0),
        "flown_below": below,
        "said": list(level_sentences(level, lowest_ft)),
    }


def _asked(asked: Asked | None) -> dict[str, Any] | None:
    if asked is None:
        return None
    return {
        "name": asked.obstacle.name,
        "place": asked.obstacle.place,
        "lat": _round(asked.obstacle.lat_deg, 6),
        "lon": _round(asked.obstacle.lon_deg, 6),
        "elevation_ft": _round(asked.obstacle.elevation_ft, 1),
        "outside_nm": _round(asked.outside_nm, 2),
        "buffer_step": asked.band or None,
        "clearance_ft": asked.clearance_ft,
        "total_ft": _round(asked.total_ft, 1),
        "level_ft": asked.level_ft,
    }


def _edge(edge: Edge | None) -> dict[str, Any] | None:
    if edge is None:
        return None
    return {
        "margin_nm": _round(edge.margin_nm, 2),
        "time_s": _round(edge.time_s, 1),
        "along_nm": _round(edge.along_nm, 2),
        "cross_nm": _round(edge.cross_nm, 2),
        "lat": _round(edge.lat_deg, 5),
        "lon": _round(edge.lon_deg, 5),
        "phase": edge.phase.name,
        "circuit": edge.phase.circuit,
        "buffer_step": edge.buffer_band,
        "outside_whole_nm": _round(edge.outside_whole_nm, 2),
    }


def _outline(shape: Any, hold: Hold) -> dict[str, list[list[float]]]:
    """Outer boundary of a shape, in the hold's frame and on the earth."""
    thin = shape.simplify(_THIN_NM)
    corners = np.asarray((thin.exterior if hasattr(thin, "exterior") else thin).coords, float)
    course = np.radians(hold.inbound_course_true_deg)
    along, cross = corners[:, 0], corners[:, 1]
    lat, lon = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg).to_earth(
        along * np.sin(course) + cross * np.cos(course), along * np.cos(course) - cross * np.sin(course)
    )
    return {
        "along_cross_nm": [[round(float(a), 2), round(float(c), 2)] for a, c in corners],
        "lat_lon": [[round(float(a), 4), round(float(o), 4)] for a, o in zip(lat, lon, strict=True)],
    }


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), digits)
