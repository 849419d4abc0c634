"""The sector diagram: from where which entry is flown, and from where this flight came."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analyser.holds.definition import turns_of
from analyser.holds.entries import sectors as hold_sectors
from analyser.holds.kinematics import to_east_north
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, Letter, places_beside, write_first_free
from analyser.pages.words import direction, in_both
from analyser.rules.regime import EntryRule

_REACH = 1.0
#: The lettering's size where the diagram is printed, drawing units: on the kneeboard card 9 points.
LETTER_UNITS = 23.0


def sectors(
    course: float,
    side: int,
    variation: float | None,
    heading: float | None,
    allowed: Sequence[str],
    rule: EntryRule,
    *,
    heading_sd_deg: float | None = None,
) -> Canvas:
    """Draw the sectors round the fix, north up, with the heading of the arrival where it is known.

    Inbound course and heading are degrees true; ``side`` is +1 for right-hand turns, -1 for left-hand. The ``rule``
    says how wide the zone round a border is in which either neighbour is right, and what the offset entry is called.
    """
    # Wider than high: the lettering of an arrival from the side stands beside the ring.
    canvas = Canvas(440.0, 360.0, (-1.516, 1.516, -1.24, 1.24), letter_units=LETTER_UNITS)
    # An aircraft with this heading at the fix comes from the opposite bearing.
    zones = [
        (zone, zone.from_heading_deg + 180.0, (zone.to_heading_deg - zone.from_heading_deg) % 360.0)
        for zone in hold_sectors(course, turns_of(side), rule)
    ]
    for zone, start, width in zones:
        _wedge(canvas, start, start + width, "band" if zone.entry in allowed else "paper")
    for _, start, _ in zones:
        _border(canvas, start, rule.zone_deg)
    symbols.ring(canvas, _REACH, ink="ink", width=1.0, layer="ring")
    _hold(canvas, course, side)
    behind = math.radians(course)
    symbols.course(canvas, -1.04 * math.sin(behind), -1.04 * math.cos(behind), layer="hold")
    symbols.fix(canvas)
    if heading is not None:
        _arrow(canvas, heading, heading_sd_deg)
    # Lettering comes last, when all is drawn that it must keep clear of: what has least choice of place first.
    for zone, start, width in sorted(zones, key=lambda one: one[2]):
        _name(canvas, rule.word(zone.entry), "strong" if zone.entry in allowed else "row", start, width)
    _label(canvas, "course", course + 180.0, ("inbound ", ""), course, variation)
    if heading is not None:
        _label(canvas, "mark", heading + 180.0, ("heading ", ""), heading, variation)
    return canvas


def _name(canvas: Canvas, name: str, kind: str, start_deg: float, width_deg: float) -> None:
    """Write a sector's name in it, where no line and no arrow runs."""
    tried = []
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
        for reach in (0.72, 0.6, 0.82, 0.48):
            at = math.radians(start_deg + share * width_deg)
            x, y = float(canvas.x(reach * math.sin(at))), float(canvas.y(reach * math.cos(at)))
            low = canvas.height - y + 0.32 * canvas.letter_units
            tried.append([Letter(x, low, name, kind, "middle", "lettering", {})])
    lines = ("arrival", "hold", "ring", "borders")
    # A long name may have to lie over the hatching, at the last over the ring.
    if not any(write_first_free(canvas, tried, lines[:kept]) for kept in (4, 3, 2)):
        canvas.letters.extend(tried[0])


def _label(
    canvas: Canvas,
    kind: str,
    from_deg: float,
    words: tuple[str, ...],
    true_deg: float,
    variation: float | None,
) -> None:
    """Write a direction in both references where its line comes from, with its word where there is room."""
    at = math.radians(from_deg)
    both = in_both(direction(true_deg, variation), kind)
    # Best outside the ring; inside it where the canvas ends too soon.
    for layers, reach in (
        (("arrival", "hold", "ring"), 1.1),
        (("arrival", "hold"), 1.0),
        (("arrival",), 0.8),
    ):
        for word in words:
            letters = [(word + text, shown) for text, shown in both]
            place = (reach * math.sin(at), reach * math.cos(at))
            if write_first_free(canvas, places_beside(canvas, place, letters, from_deg + 90.0), layers):
                return


def _wedge(canvas: Canvas, start: float, end: float, ink: str) -> None:
    angle = np.radians(np.linspace(start, end, 60))
    east, north = _REACH * np.sin(angle), _REACH * np.cos(angle)
    canvas.area(np.append(east, 0.0), np.append(north, 0.0), ink, layer="sectors")


def _border(canvas: Canvas, at: float, flexible: float) -> None:
    # The zone of choice is hatched, so that it shows in grey print too.
    shares = np.linspace(0.16, 0.98, 22)[:, None]
    ends = np.radians([at - flexible, at + flexible, np.nan])
    canvas.line(
        (shares * np.sin(ends)).ravel(), (shares * np.cos(ends)).ravel(), "pencil", 0.6, layer="borders"
    )
    angle = math.radians(at)
    canvas.line([0, math.sin(angle)], [0, math.cos(angle)], "ink", 1.0, layer="borders")


def _hold(canvas: Canvas, course_deg: float, side: int) -> None:
    """Draw a small racetrack as a reminder of how the hold lies."""
    radius, length = 0.13, 0.34
    half = np.linspace(0, np.pi, 25)
    along = np.concatenate((radius * np.sin(half), -length - radius * np.sin(half), [0.0]))
    across = np.concatenate((radius - radius * np.cos(half), radius + radius * np.cos(half), [0.0]))
    canvas.line(*to_east_north(along, side * across, course_deg), "pencil", 1.6, layer="hold")


def _arrow(canvas: Canvas, heading_deg: float, sd_deg: float | None) -> None:
    heading = math.radians(heading_deg)
    start, tip = ((-far * math.sin(heading), -far * math.cos(heading)) for far in (1.06, 0.09))
    if sd_deg is not None:
        spread = np.radians(heading_deg + 180 + np.array([-2, 2]) * sd_deg)
        east, north = [0, *(0.98 * np.sin(spread))], [0, *(0.98 * np.cos(spread))]
        canvas.area(east, north, "mark", opacity=0.22, layer="arrival")
    symbols.shaft(canvas, start, tip, heading_deg, 0.08, ink="mark", width=2.6, layer="arrival")
