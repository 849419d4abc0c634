"""The kneeboard card as a page to print on A5 or A6: sketch, sectors and the rows of the card."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from analyser.earth.angles import whole_direction
from analyser.holds.briefing import Briefing
from analyser.holds.entries import entry_path
from analyser.holds.kinematics import to_east_north
from analyser.pages.card_writer import Card
from analyser.pages.figures import symbols
from analyser.pages.figures.canvas import Canvas, letter_free, window_round
from analyser.pages.figures.sectors import LETTER_UNITS, sectors
from analyser.pages.figures.svg import svg
from analyser.pages.template import render
from analyser.pages.words import direction

FloatArray = NDArray[np.float64]

#: The sketch's canvas, drawing units.
_WIDTH, _HEIGHT = 500.0, 340.0
#: Rows that the front says whole, their rule with them or beside them.
_ON_THE_FRONT = ("Inbound course", "Level, speed", "Wind", "… from wings level", "Turn in when")
#: Sizes and margins of the papers, millimetres; CSS has no word for A6.
_PAPERS = {"a5": "148mm 210mm; margin: 6mm", "a6": "105mm 148mm; margin: 4mm"}


def card_page(
    briefing: Briefing, card: Card, *, magnetic: bool = True, paper: Literal["a5", "a6"] = "a5"
) -> str:
    """Write the card as one HTML file: the briefing for the pictures, the card for the words.

    ``magnetic`` is the reference of the pictures; the card's words have chosen theirs. The front is to fly by, the back
    says why; A6 has no room for the pictures and shortens the back.
    """
    exact, drawn = briefing.exact, Markup()
    if exact.closes:
        out, back = (
            _text(briefing, one, magnetic) for one in (exact.outbound_heading_deg, exact.inbound_heading_deg)
        )
        finding = (
            f"Sketch of the circuit in the wind: outbound heading {out}, inbound heading {back}, north up."
        )
        drawn = svg(sketch(briefing, magnetic=magnetic), finding, name="sketch")
    rows = (*card.hold, *card.circuit)
    # The rows come first in the card's list of rules, so theirs are numbered from 1.
    named = {rule for row in rows for rule in row.rules}
    return render(
        "card.html",
        "card.css",
        more=f"\n@page {{ size: {_PAPERS[paper]}; }}\n",
        card=card,
        magnetic=magnetic,
        paper=paper,
        behind=[row for row in rows if row.label not in _ON_THE_FRONT],
        sources=[rule for rule in card.rules if rule in named],
        sketch=drawn,
        sector_diagram=_sectors_svg(briefing),
    )


def _sectors_svg(briefing: Briefing) -> Markup:
    rule = briefing.regime.entry
    said = " or ".join(map(rule.word, briefing.allowed)) or "no arrival heading given"
    hold = briefing.hold
    drawn = sectors(
        hold.inbound_course_true_deg,
        hold.side,
        briefing.variation.variation_deg,
        briefing.flight.arrival_heading_true_deg,
        briefing.allowed,
        rule,
    )
    zone = f"{rule.zone_deg:g}"
    finding = f"Entry sectors with {zone} degree zones at their borders, north up; entry: {said}."
    return svg(drawn, finding, name="sectors")


def sketch(briefing: Briefing, *, magnetic: bool = True) -> Canvas:
    """Draw the exact circuit, which closes, in the forecast wind, and the entry where the arrival is known.

    ``magnetic`` is the reference of the headings written beside the legs.
    """
    exact, hold = briefing.exact, briefing.hold
    path = exact.path(2.0)
    east, north = to_east_north(path.along_nm, path.cross_nm, hold.inbound_course_true_deg)
    entry = _entry(briefing)
    # Wide, with a margin for lettering.
    window = window_round(np.append(east, entry[0]), np.append(north, entry[1]), _HEIGHT / _WIDTH, 1.24)
    canvas = Canvas(_WIDTH, _HEIGHT, window, letter_units=LETTER_UNITS)
    symbols.north_and_scale(canvas)
    course = math.radians(hold.inbound_course_true_deg)
    far = 1.25 * float(np.min(path.along_nm))
    symbols.course(canvas, far * math.sin(course), far * math.cos(course))
    if entry[0].size:
        canvas.line(*entry, "entry", 1.8, (5.0, 2.5), layer="entry")
    outbound = path.phase <= 1
    canvas.line(east[outbound], north[outbound], "out", 2.4, layer="circuit")
    # The inbound half starts at the corner that the outbound half ends at.
    inbound = ~outbound | (np.arange(path.phase.size) == np.sum(outbound) - 1)
    canvas.line(east[inbound], north[inbound], "in", 2.4, layer="circuit")
    _gate(canvas, briefing)
    symbols.fix(canvas)
    wind = briefing.flight
    if wind.wind_known and wind.wind_speed_kt > 0.0:
        said = f"{whole_direction(wind.wind_from_true_deg):03d}°T/{wind.wind_speed_kt:.0f}"
        symbols.wind(canvas, wind.wind_from_true_deg, (said, said))
    _label(canvas, briefing, magnetic)
    return canvas


def _entry(briefing: Briefing) -> tuple[FloatArray, FloatArray]:
    arrival = briefing.flight.arrival_heading_true_deg
    if arrival is None or not briefing.entries or briefing.entries[0].entry == "direct":
        return np.empty(0), np.empty(0)
    path = entry_path(briefing.entries[0], briefing.exact, arrival)
    return to_east_north(path.along_nm, path.cross_nm, briefing.hold.inbound_course_true_deg)


def _gate(canvas: Canvas, briefing: Briefing) -> None:
    """Draw the line of sight to the fix from where the inbound turn starts."""
    exact = briefing.exact
    end = to_east_north(
        np.array([exact.outbound_end_along_nm]),
        np.array([exact.outbound_end_cross_nm]),
        briefing.hold.inbound_course_true_deg,
    )
    canvas.line([float(end[0][0]), 0], [float(end[1][0]), 0], "pencil", 0.9, (2.0, 2.4), layer="gate")


def _label(canvas: Canvas, briefing: Briefing, magnetic: bool) -> None:
    """Write each leg's heading beside its middle, away from the other leg."""
    exact, course = briefing.exact, briefing.hold.inbound_course_true_deg
    path = exact.path(2.0)
    for phase, heading_deg, ink, aside in (
        (1, exact.outbound_heading_deg, "out", exact.side),
        (3, exact.inbound_heading_deg, "in", -exact.side),
    ):
        leg = np.flatnonzero(path.phase == phase)
        along = float(np.mean(path.along_nm[leg]))
        cross = float(np.mean(path.cross_nm[leg]))
        east, north = to_east_north(np.array([along]), np.array([cross]), course)
        # Away from the middle of the pattern, clear of the line.
        letter_free(
            canvas,
            (float(east[0]), float(north[0])),
            [(_text(briefing, heading_deg, magnetic), f"strong {ink}")],
            course + 90.0 * aside,
            layer="lettering",
            clear_of=("circuit", "entry", "gate"),
        )


def _text(briefing: Briefing, true_deg: float, magnetic: bool) -> str:
    both = direction(true_deg, briefing.variation.variation_deg)
    return both[0] if magnetic else both[1]
