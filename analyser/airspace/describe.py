"""What is said of a hold's airspace: its sentences, and its part of the debrief file."""

from __future__ import annotations

import unicodedata
from typing import Any

import numpy as np

from analyser.airspace.excursion import AirspaceReport, Edge
from analyser.airspace.hold_airspace import HoldAirspace
from analyser.airspace.holding_area import HoldingArea
from analyser.airspace.obstacles import MinimumLevel, ObstacleClearance
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold
from analyser.holds.kinematics import to_east_north
from analyser.schema.debrief_file import (
    WrittenAirspace,
    WrittenArea,
    WrittenAreaSpeed,
    WrittenBuffer,
    WrittenDoubt,
    WrittenEdge,
    WrittenMinimumLevel,
    WrittenObstacle,
    WrittenOutline,
)

#: At full strength on every picture and number of this part.
CAUTION = (
    "Training illustration: not obstacle clearance, not for planning or navigation. Published minimum holding "
    "levels, air traffic control and the AIP decide."
)
NOT_FAA = (
    "This is the ICAO construction. The FAA sizes holding airspace by templates of its own, which are not "
    "drawn here: this is not the FAA's area."
)
#: How the construction was simplified; every one errs to the smaller area.
SIMPLIFIED = (
    "The template's formulas are quoted from other documents, not from a copy of the manual.",
    "Arcs are drawn by chords inside them, and the turn continued from the earliest start is left out: smaller.",
    "Entries are swept for headings within each sector, without the five degrees either side: smaller.",
    "A distance leg ends at its distance; the error of the reading is not added: smaller.",
    "Where the kind of fix is not known no fix tolerance is allowed for: smaller.",
    "Where no category is known and the flight kept the limit of category A and B, that limit is used: smaller.",
)


def excursion_sentence(report: AirspaceReport, cause: str | None = None) -> str:
    """Say that the flight left its area, or may have; empty where it did not.

    ``cause`` is what in the error budget took the flight there, as a noun phrase.
    """
    if report.sure_excursion is not None:
        return _strayed(report.sure_excursion, cause)
    return "" if report.likely_excursion is None else _may_have_strayed(report.likely_excursion, cause)


def verdict_sentences(report: AirspaceReport, cause: str | None = None) -> tuple[str, ...]:
    """Say what must stand first in the verdict; empty where nothing is."""
    out = excursion_sentence(report, cause)
    return (*([out] if out else []), *([speed_sentence(report)] if report.speed.kept is False else []))


def inside_sentence(report: AirspaceReport) -> str:
    """Say whether the flight stayed inside, could be told to have, or not."""
    if report.inside_share is None or not report.edges:
        return "Nothing of the hold was recorded well enough to say whether it kept to its area."
    nearest = min(report.edges, key=lambda edge: edge.margin_nm)
    if report.sure_excursion is not None:
        return _strayed(report.sure_excursion, None)
    if report.likely_excursion is not None:
        return _may_have_strayed(report.likely_excursion, None)
    if report.strayed is None:
        return (
            f"Whether the flight kept to its area cannot be told: in {nearest.phase.said()} it came to "
            f"{_beside(nearest)}. The area is drawn the smaller: {_because(report)}."
        )
    return (
        f"All that was recorded lies inside the drawn area; nearest to its edge in {nearest.phase.said()}, "
        f"{nearest.margin_nm:.1f} NM."
    )


def speed_sentence(report: AirspaceReport) -> str:
    """Say whether the speed keeps the area valid."""
    speed = report.speed
    if speed.most_kias is None:
        return f"Drawn for {speed.limit_kias:.0f} kt indicated; whether that was kept the log does not tell."
    if speed.kept:
        return f"The area is drawn for {speed.limit_kias:.0f} kt indicated, which was kept."
    known = f"{speed.most_kias:.0f} kt indicated (known to ±{2.0 * (speed.most_sd_kt or 0.0):.0f} kt)"
    if speed.kept is None:
        return (
            f"The area is drawn for {speed.limit_kias:.0f} kt indicated; the most that was held for a while, {known}, "
            "does not tell whether that was kept."
        )
    return (
        f"You held up to {known}, faster than the {speed.limit_kias:.0f} kt the "
        f"holding area is drawn for, for {speed.faster_s:.0f} s: at that speed the area is not valid."
    )


def level_sentences(
    level: MinimumLevel, lowest_ft: float | None = None, *, planned_ft: float | None = None
) -> tuple[str, ...]:
    """Show the sum of a minimum level, and hold the lowest altitude flown, or the one planned, against it."""
    controlling = level.controlling
    if controlling is None:
        said = [
            f"None of the file's {level.read} obstacles lies inside the area or its buffer, so the file gives "
            "no minimum level. Terrain that is not in the file was not looked at."
        ]
    else:
        kind = "in high terrain" if level.high_terrain else "not in high terrain"
        said = [
            f"Minimum holding level over the file's obstacles, {kind}: {controlling.level_ft:,.0f} ft.",
            f"Controlling obstacle: {_sum(controlling)}.",
        ]
    if level.if_nearer is not None and level.if_nearer.level_ft > (level.level_ft or 0.0):
        said.append(
            "The drawn area errs to the smaller. For what it may leave out: with every obstacle "
            f"{level.nearer_nm:g} NM nearer the level would be {level.if_nearer.level_ft:,.0f} ft "
            f"({_sum(level.if_nearer)})."
        )
    if level.level_ft is not None and lowest_ft is not None:
        against = _against(lowest_ft, level.level_ft)
        said.append(f"The lowest altitude flown in the hold was {lowest_ft:,.0f} ft, {against}.")
    if level.level_ft is not None and planned_ft is not None:
        said.append(f"The altitude planned is {planned_ft:,.0f} ft, {_against(planned_ft, level.level_ft)}.")
    return tuple(said)


def _against(altitude_ft: float, level_ft: float) -> str:
    off_ft = altitude_ft - level_ft
    if abs(off_ft) < 0.5:
        return "exactly at it"
    return f"{abs(off_ft):,.0f} ft {'below' if off_ft < 0.0 else 'above'} it"


def area_sentence(area: HoldingArea) -> str:
    """Say what the area was drawn for."""
    figures = area.figures
    leg = (
        f"{figures.outbound_s / 60.0:g} min" if figures.distance_nm is None else f"{figures.distance_nm:g} NM"
    )
    return (
        f"Drawn for {figures.ias_kt:.0f} kt indicated ({figures.tas_kt:.0f} kt true) at {figures.altitude_ft:,.0f} ft, "
        f"ISA+{figures.isa_deviation_c:.0f}, {leg} outbound and {figures.wind_kt:.0f} kt of wind from any side; "
        f"fix tolerance: {area.fix_tolerance.kind}."
    )


def _sum(asked: ObstacleClearance) -> str:
    # A name is text from a file: a terminal would obey its control characters.
    printable = "".join(c if unicodedata.category(c)[0] != "C" else " " for c in asked.obstacle.said())
    name = " ".join(printable.split())[:80]
    return f"{name}, {asked.where()}: {asked.said()}"


def _beside(edge: Edge) -> str:
    side = "inside" if edge.margin_nm >= 0.0 else "outside"
    return f"{abs(edge.margin_nm):.2f} NM {side} the edge"


def _because(report: AirspaceReport) -> str:
    reasons = []
    if not report.fix_tolerance_known:
        reasons.append("no fix tolerance is allowed for, because what the fix is known by was not said")
    if report.position_sd_nm > 0.0:
        reasons.append(f"fix and course were inferred, which leaves ±{2.0 * report.position_sd_nm:.2f} NM")
    return "; ".join(reasons) or "its construction is simplified"


def _strayed(edge: Edge, cause: str | None) -> str:
    where = ", beyond the whole buffer" if edge.buffer_band == 0 else ""
    return (
        f"You left the holding area: {edge.outside_whole_nm:.1f} NM outside it in {edge.phase.said()}{where}"
        f"{_took(cause)}. Terrain is cleared only inside it and its buffer."
    )


def _may_have_strayed(edge: Edge, cause: str | None) -> str:
    needs = "entries need" if edge.phase.circuit is None else "circuits need"
    return (
        f"You may have left the holding area: in {edge.phase.said()} you were {-edge.margin_nm:.1f} NM outside the "
        f"part that {needs}, drawn the smaller{_took(cause)}. Terrain is cleared only inside the area and its buffer."
    )


def _took(cause: str | None) -> str:
    return f"; what took you there most was {cause}" if cause else ""


#: Outlines are thinned to within this of themselves, nautical miles: less than a drawn line's width.
_THIN_NM = 0.03


def written_airspace(found: HoldAirspace, hold: Hold, *, rules: str = "icao") -> WrittenAirspace:
    """Write the airspace part of one hold; ``rules`` says by whose it was flown."""
    report, area, cause, level = found.report, found.area, found.cause, found.level
    return WrittenAirspace.of(
        report,
        caution=CAUTION,
        not_faa=NOT_FAA if rules == "faa" else None,
        simplified=SIMPLIFIED,
        said=(inside_sentence(report), speed_sentence(report), area_sentence(area)),
        first=verdict_sentences(report, cause),
        deepest=_edge(report.deepest),
        cause=cause if report.deepest is not None else None,
        entry=_edge(report.entry),
        circuits=map(_edge, report.circuits),
        doubt_nm=WrittenDoubt(circuit=report.circuit_doubt_nm, entry=report.entry_doubt_nm),
        speed=WrittenAreaSpeed.of(report.speed, area_valid=report.speed.kept),
        minimum_level=None if level is None else written_level(level, report.level.lowest_ft),
        area=_area(area, hold),
    )


def _area(area: HoldingArea, hold: Hold) -> WrittenArea:
    """Write what an area, in the hold's frame, was drawn for and its outlines."""
    figures = area.figures
    outlines = {"fix": area.fix, "template": area.template, "area": area.area, "entry_area": area.entry_area}
    return WrittenArea.of(
        figures,
        area,
        minutes=None if figures.distance_nm is not None else figures.outbound_s / 60.0,
        fix_tolerance=area.fix_tolerance.kind,
        outlines={name: _outline(shape, hold) for name, shape in outlines.items()},
        buffer=[WrittenBuffer.of(band, outline=_outline(band.outline, hold)) for band in area.buffers],
    )


def written_level(level: MinimumLevel, lowest_ft: float | None = None) -> WrittenMinimumLevel:
    """Write a minimum level, and what the lowest altitude flown is against it."""
    below = None if level.level_ft is None or lowest_ft is None else lowest_ft < level.level_ft
    controlling, nearer = (
        None if one is None else WrittenObstacle.of(one, one.obstacle, buffer_step=one.band or None)
        for one in (level.controlling, level.if_nearer)
    )
    return WrittenMinimumLevel.of(
        level,
        caution=CAUTION,
        controlling=controlling,
        if_nearer_nm=level.nearer_nm,
        if_nearer=nearer,
        lowest_flown_ft=lowest_ft,
        flown_below=below,
        said=level_sentences(level, lowest_ft),
    )


def _edge(edge: Edge | None) -> WrittenEdge | None:
    if edge is None:
        return None
    return WrittenEdge.of(edge, edge.phase, phase=edge.phase.name, buffer_step=edge.buffer_band)


def _outline(shape: Any, hold: Hold) -> WrittenOutline:
    """Outer boundary of a shape, in the hold's frame and on the earth."""
    thin = shape.simplify(_THIN_NM)
    corners = np.asarray((thin.exterior if hasattr(thin, "exterior") else thin).coords, float)
    lat, lon = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg).to_earth(
        *to_east_north(corners[:, 0], corners[:, 1], hold.inbound_course_true_deg)
    )
    return WrittenOutline(
        # Never a negative nought: a hold's mirror image may be kept from another one's.
        along_cross_nm=tuple((round(float(a), 2) + 0.0, round(float(c), 2) + 0.0) for a, c in corners),
        lat_lon=tuple((round(float(a), 4), round(float(o), 4)) for a, o in zip(lat, lon, strict=True)),
    )
