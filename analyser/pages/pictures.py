"""All pictures of one hold, each with the sentence that says what it shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup

from analyser.circuits.flown import FlownHold
from analyser.holds.exact import ExactCircuit
from analyser.pages import findings
from analyser.pages.area_on_map import area_parts
from analyser.pages.bands import hold_strips
from analyser.pages.figures.air import air
from analyser.pages.figures.area import reach
from analyser.pages.figures.multiples import multiples
from analyser.pages.figures.plan import Path, PlanParts, plan
from analyser.pages.figures.sectors import Arrival, sectors
from analyser.pages.figures.sheet import Sheet
from analyser.pages.figures.side import side
from analyser.pages.figures.strip import Strip
from analyser.pages.figures.strips import ribbon, strip_sheet
from analyser.pages.figures.svg import svg
from analyser.pages.figures.waterfall import ROW, Share, waterfall
from analyser.pages.figures.windcircle import WindCircle, wind_circle
from analyser.pages.ideal import ideal_entry_path, path_on_map
from analyser.pages.phases import Span
from analyser.pages.series import HoldSeries
from analyser.pages.words import direction, number

if TYPE_CHECKING:
    from analyser.grading.levels import LevelPlan


@dataclass(frozen=True)
class Picture:
    """One picture ready for the page.

    Attributes
    ----------
    svg : Markup
    title : str
    finding : str
        What it shows, in a sentence: caption and text alternative.
    mapping : dict
        For the script's cursor.
    """

    svg: Markup
    title: str
    finding: str
    mapping: dict[str, float]


@dataclass(frozen=True)
class Subject:
    """What the pictures of one hold are drawn from.

    Attributes
    ----------
    flown : FlownHold
    document : mapping
        The hold's part of the debrief document.
    series : HoldSeries
    spans : sequence of Span
    exact : mapping of circuit number to ExactCircuit
    reflown : mapping of (circuit number, cause) to Path
    """

    flown: FlownHold
    document: Mapping[str, Any]
    series: HoldSeries
    spans: Sequence[Span]
    exact: Mapping[int, ExactCircuit]
    reflown: Mapping[tuple[int, str], Path]

    @property
    def variation(self) -> float | None:
        """Magnetic variation, east positive."""
        found: float | None = self.document.get("variation")
        return found

    @property
    def window_s(self) -> tuple[float, float]:
        """What the time strips show: half a minute before the fix to shortly after the hold."""
        inner = [span for span in self.spans if span.circuit or span.phase == "entry"] or list(self.spans)
        first, last = float(self.series.time_s[0]), float(self.series.time_s[-1])
        return max(first, inner[0].start_s - 30.0), min(last, inner[-1].end_s + 15.0)


def picture(sheet: Sheet, title: str, finding: str, name: str, **data: Any) -> Picture:
    """Turn a sheet into a picture."""
    return Picture(svg(sheet, f"{title}. {finding}", name=name, **data), title, finding, sheet.mapping())


def plan_picture(subject: Subject) -> Picture:
    """Draw the plan view."""
    wind = subject.document.get("wind") or {}
    from_true, speed = wind.get("from_true"), wind.get("speed_kt")
    parts = PlanParts(
        subject.series,
        subject.spans,
        subject.flown.hold.inbound_course_true_deg,
        direction(subject.flown.hold.inbound_course_true_deg, subject.variation),
        _wind_texts(from_true, speed, subject.variation),
        from_true,
        {number: path_on_map(exact) for number, exact in subject.exact.items()},
        ideal_entry_path(subject.document),
        dict(subject.reflown),
        area_parts(subject.document),
    )
    sheet = plan(parts)
    # How far the script looks out when the holding area is switched on.
    further = {}
    if parts.area is not None:
        further["reach"] = " ".join(f"{edge:.1f}" for edge in reach(sheet, parts.area))
    return picture(sheet, "Plan view", findings.plan(subject.document), "plan", **further)


def air_picture(subject: Subject) -> Picture:
    """Draw the air-mass view."""
    radii = {}
    for which, exact in subject.exact.items():
        # A turn at V knots and ω degrees a second has the radius V/ω.
        radius = exact.tas_kt / 3600.0 / np.radians(exact.turn_rate_dps)
        radii[which, "outbound_turn"] = radii[which, "inbound_turn"] = float(radius)
    return picture(
        air(subject.series, subject.spans, radii), "Air-mass view", findings.air(subject.document), "air"
    )


def side_picture(subject: Subject, strips: Sequence[Strip]) -> Picture | None:
    """Draw the side view; without heights there is none."""
    if np.isnan(subject.series.altitude_ft).all():
        return None
    bands = next((strip.bands for strip in strips if strip.key == "altitude"), ())
    same = {(band.low, band.high) for band in bands}
    sheet = side(subject.series, subject.spans, same.pop() if len(same) == 1 else None)
    return picture(sheet, "Side view", findings.side(subject.series), "side")


def strips_of(subject: Subject, levels: LevelPlan) -> list[Strip]:
    """Return the quantities that have a strip."""
    return hold_strips(subject.flown, subject.series, _circuits(subject), levels)


def strip_pictures(subject: Subject, strips: Sequence[Strip]) -> list[tuple[str, Picture]]:
    """Draw the ribbon of phases and every time strip."""
    window = subject.window_s
    drawn = [
        ("ribbon", picture(ribbon(subject.spans, window), "Phases", findings.ribbon(subject.spans), "ribbon"))
    ]
    for strip in strips:
        sheet = strip_sheet(strip, subject.spans, window)
        drawn.append((strip.key, picture(sheet, strip.title, findings.strip(strip), "strip", key=strip.key)))
    return drawn


def multiple_pictures(subject: Subject) -> dict[int, Picture]:
    """Draw every circuit on its own, all on one scale."""
    ideal = {which: path_on_map(exact) for which, exact in subject.exact.items()}
    return {
        which: picture(sheet, f"Circuit {which}", findings.circuit(_circuit(subject, which)), "multiple")
        for which, sheet in multiples(subject.series, subject.spans, ideal, subject.reflown).items()
    }


def sector_picture(subject: Subject) -> Picture:
    """Draw the entry sectors with the arrival heading."""
    entry = subject.document.get("entry") or {}
    flown = subject.flown
    arrival = Arrival(
        flown.hold.inbound_course_true_deg,
        flown.hold.side,
        subject.variation,
        entry.get("arrival_heading_true"),
        flown.entry.arrival_heading_sd_deg if flown.entry is not None else None,
        tuple(entry.get("sectors_allowed") or ()),
    )
    return picture(sectors(arrival), "Entry sectors", findings.entry(subject.document), "sectors")


def wind_picture(subject: Subject) -> Picture | None:
    """Draw the wind circle; without a wind there is none."""
    wind = subject.document.get("wind") or {}
    if wind.get("east_kt") is None or subject.document.get("tas_kt") is None:
        return None
    motion = subject.flown.motion
    inside = motion.span(subject.flown.start_s, subject.flown.end_s)
    stride = max(1, round((inside.stop - inside.start) / 400))
    pick = slice(inside.start, inside.stop, stride)
    circle = WindCircle(
        motion.ground_east_kt[pick],
        motion.ground_north_kt[pick],
        wind["east_kt"],
        wind["north_kt"],
        wind.get("sd_kt"),
        subject.document["tas_kt"],
        subject.document.get("tas_sd_kt"),
        tuple((c.number, c.wind_east_kt, c.wind_north_kt) for c in subject.flown.circuits),
        _wind_texts(wind.get("from_true"), wind.get("speed_kt"), subject.variation),
    )
    return picture(wind_circle(circle), "Wind circle", findings.wind(subject.document), "wind")


def waterfall_pictures(circuit: Mapping[str, Any]) -> list[Picture]:
    """Draw the error budget of one circuit: across the course, and along it or in time."""
    budget = circuit.get("error_budget") or []
    pictures = []
    for key, title, unit, decimals in (
        ("cross_track_nm", "Across the course at roll-out, right is positive", "NM", 2),
        ("along_track_nm", "Along the course at roll-out, nearer the fix is positive", "NM", 2),
        ("time_s", "Inbound time, long is positive", "s", 1),
    ):
        shares = [
            Share(findings.cause_words(share["cause"]), float(share[key]))
            for share in budget
            if share.get(key) is not None
        ]
        if shares:
            shares.sort(key=lambda share: -abs(share.value))
            total = sum(share.value for share in shares)
            sheet = waterfall(shares, total, unit, decimals)
            finding = findings.waterfall(shares, total, unit, decimals)
            pictures.append(picture(sheet, title, finding, "waterfall", rows=round(sheet.height / ROW)))
    return pictures


def _wind_texts(from_true: float | None, speed: float | None, variation: float | None) -> tuple[str, str]:
    if from_true is None or speed is None:
        return "", ""
    magnetic, true = direction(from_true, variation)
    return f"{magnetic} {number(speed)} kt", f"{true} {number(speed)} kt"


def _circuits(subject: Subject) -> list[Mapping[str, Any]]:
    return list(subject.document.get("circuits") or [])


def _circuit(subject: Subject, which: int) -> Mapping[str, Any]:
    return next((circuit for circuit in _circuits(subject) if circuit["number"] == which), {})
