"""The sector diagram: from where which entry is flown, and from where this flight came."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyser.earth.angles import wrap180
from analyser.holds.sectors import sectors as hold_sectors
from analyser.pages.figures import symbols
from analyser.pages.figures.placing import letter_free
from analyser.pages.figures.sheet import Sheet
from analyser.pages.words import direction

_REACH = 1.0


@dataclass(frozen=True)
class Arrival:
    """How the aircraft came to the fix.

    Attributes
    ----------
    inbound_course_true_deg : float
    side : int
        +1 for right-hand turns, -1 for left-hand.
    variation_deg : float or None
    heading_true_deg, heading_sd_deg : float or None
    allowed : tuple of str
    flexible_deg : float
        Half the zone at each border in which either neighbour is right.
    offset_word : str
        What the rules call the offset entry.
    """

    inbound_course_true_deg: float
    side: int
    variation_deg: float | None
    heading_true_deg: float | None
    heading_sd_deg: float | None
    allowed: tuple[str, ...]
    flexible_deg: float = 5.0
    offset_word: str = "offset"


def sectors(arrival: Arrival) -> Sheet:
    """Draw the sectors round the fix, north up, with the arrival heading.

    Parameters
    ----------
    arrival : Arrival

    Returns
    -------
    Sheet
        Layers: sectors, borders, hold, fix, arrival, lettering.
    """
    sheet = Sheet(360.0, 360.0, (-1.24, 1.24, -1.24, 1.24))
    course, side = arrival.inbound_course_true_deg, arrival.side
    zones = hold_sectors(course, "right" if side > 0 else "left")
    for zone in zones:
        # An aircraft with this heading at the fix comes from the opposite bearing.
        start, width = zone.from_heading_deg + 180.0, (zone.to_heading_deg - zone.from_heading_deg) % 360.0
        name = arrival.offset_word if zone.entry == "offset" else zone.entry
        allowed = zone.entry in arrival.allowed
        _wedge(sheet, start, start + width, "band" if allowed else "paper", 1.0)
        middle = math.radians(_clear_of(arrival, start + width / 2, width))
        place = 0.74 * _REACH
        kind = "strong" if allowed else "row"
        sheet.letter(place * math.sin(middle), place * math.cos(middle), name, kind)
    for zone in zones:
        _border(sheet, zone.from_heading_deg + 180.0, arrival.flexible_deg)
    symbols.ring(sheet, _REACH, ink="ink", width=1.0, layer="borders")
    _hold(sheet, course, side)
    symbols.fix(sheet)
    if arrival.heading_true_deg is not None:
        _arrival(sheet, arrival)
    _course(sheet, arrival)
    return sheet


def _clear_of(arrival: Arrival, middle_deg: float, width_deg: float) -> float:
    """Move a sector's name aside where the arrival's arrow would run through it."""
    if arrival.heading_true_deg is None:
        return middle_deg
    off = wrap180(arrival.heading_true_deg + 180.0 - middle_deg)
    return middle_deg if abs(off) > 20.0 else middle_deg - math.copysign(0.28 * width_deg, off)


def _wedge(sheet: Sheet, start: float, end: float, ink: str, opacity: float) -> None:
    angle = np.radians(np.linspace(start, end, 60))
    east, north = _REACH * np.sin(angle), _REACH * np.cos(angle)
    sheet.area(np.append(east, 0.0), np.append(north, 0.0), ink, opacity=opacity, layer="sectors")


def _border(sheet: Sheet, at: float, flexible: float) -> None:
    # The zone of choice is hatched, so that it shows in grey print too.
    shares = np.linspace(0.16, 0.98, 22)[:, None]
    ends = np.radians([at - flexible, at + flexible, np.nan])
    sheet.line(
        (shares * np.sin(ends)).ravel(), (shares * np.cos(ends)).ravel(), "pencil", 0.6, layer="borders"
    )
    angle = math.radians(at)
    sheet.line([0, math.sin(angle)], [0, math.cos(angle)], "ink", 1.0, layer="borders")


def _hold(sheet: Sheet, course_deg: float, side: int) -> None:
    """Draw a small racetrack as a reminder of how the hold lies."""
    radius, length = 0.13, 0.34
    half = np.linspace(0, np.pi, 25)
    along = np.concatenate((radius * np.sin(half), -length - radius * np.sin(half), [0.0]))
    across = np.concatenate((radius - radius * np.cos(half), radius + radius * np.cos(half), [0.0]))
    course = math.radians(course_deg)
    east = along * math.sin(course) + side * across * math.cos(course)
    north = along * math.cos(course) - side * across * math.sin(course)
    sheet.line(east, north, "pencil", 1.6, layer="hold")


def _course(sheet: Sheet, arrival: Arrival) -> None:
    back = math.radians(arrival.inbound_course_true_deg + 180.0)
    place = 1.1 * _REACH
    texts = direction(arrival.inbound_course_true_deg, arrival.variation_deg)
    sheet.line(
        [1.04 * math.sin(back), 0], [1.04 * math.cos(back), 0], "ink", 0.9, (9, 2.5, 1.5, 2.5), layer="hold"
    )
    letters = [(text, f"course {kind}") for text, kind in zip(texts, ("when-mag", "when-tru"), strict=True)]
    letter_free(sheet, (place * math.sin(back), place * math.cos(back)), letters, math.degrees(back) + 90.0,
                layer="lettering", clear_of=("arrival", "hold"))  # fmt: skip


def _arrival(sheet: Sheet, arrival: Arrival) -> None:
    assert arrival.heading_true_deg is not None
    heading = math.radians(arrival.heading_true_deg)
    start, tip = (
        (-1.06 * math.sin(heading), -1.06 * math.cos(heading)),
        (-0.09 * math.sin(heading), -0.09 * math.cos(heading)),
    )
    if arrival.heading_sd_deg is not None:
        spread = np.radians(arrival.heading_true_deg + 180 + np.array([-2, 2]) * arrival.heading_sd_deg)
        sheet.area(
            [0, *(0.98 * np.sin(spread))],
            [0, *(0.98 * np.cos(spread))],
            "mark",
            opacity=0.22,
            layer="arrival",
        )
    sheet.line([start[0], tip[0]], [start[1], tip[1]], "mark", 2.6, layer="arrival")
    for side in (155.0, -155.0):
        barb = heading + math.radians(side)
        sheet.line([tip[0], tip[0] + 0.08 * math.sin(barb)], [tip[1], tip[1] + 0.08 * math.cos(barb)], "mark", 2.6,
                   layer="arrival")  # fmt: skip
    texts = direction(arrival.heading_true_deg, arrival.variation_deg)
    place = (-1.02 * math.sin(heading), -1.02 * math.cos(heading))
    letters = [
        (f"heading {text}", f"mark {kind}")
        for text, kind in zip(texts, ("when-mag", "when-tru"), strict=True)
    ]
    letter_free(sheet, place, letters, arrival.heading_true_deg + 180.0, layer="lettering",
                clear_of=("arrival", "hold"))  # fmt: skip
