"""The air-mass view: the flight seen drifting with the wind, where a turn at constant bank is a circle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyser.pages.figures import symbols
from analyser.pages.figures.placing import letter_free
from analyser.pages.figures.plan import draw_flown, sheet_for
from analyser.pages.figures.sheet import Sheet
from analyser.pages.phases import Span
from analyser.pages.series import HoldSeries


def air(series: HoldSeries, spans: Sequence[Span], turn_radii_nm: dict[tuple[int, str], float]) -> Sheet:
    """Draw the flight as the air saw it.

    Parameters
    ----------
    series : HoldSeries
    spans : sequence of Span
    turn_radii_nm : mapping of (circuit number, phase) to float
        Radius of the turn with the bank it should have had; the turn is drawn over that circle.

    Returns
    -------
    Sheet
        Layers: frame, drift (the fix's way through the air), ideal (the circles), other, flown, lettering.
    """
    inner = [span for span in spans if span.circuit or span.phase == "entry"] or list(spans)
    start, end = inner[0].start_s, inner[-1].end_s
    cut = series.within(start - 20.0, end + 15.0)
    drift = series.within(start, end)
    east = np.concatenate((series.air_east_nm[cut], series.drift_east_nm[drift]))
    north = np.concatenate((series.air_north_nm[cut], series.drift_north_nm[drift]))
    sheet = sheet_for(east, north)
    symbols.north(sheet)
    symbols.scale(sheet)
    sheet.line(
        series.drift_east_nm[drift], series.drift_north_nm[drift], "air", 1.4, (1.5, 3.0), layer="drift"
    )
    for (number, phase), radius in turn_radii_nm.items():
        _circle(sheet, series, spans, (number, phase), radius)
    draw_flown(sheet, series, spans, in_air=True)
    for span in spans:
        if span.phase == "outbound_turn":
            _fix_seen(sheet, series, span)
    return sheet


def _circle(
    sheet: Sheet, series: HoldSeries, spans: Sequence[Span], which: tuple[int, str], radius: float
) -> None:
    number = which[0]
    for span in spans:
        if (span.circuit, span.phase) == which:
            middle = int(np.argmin(np.abs(series.time_s - (span.clock_s + span.end_s) / 2)))
            heading = np.radians(series.heading_deg[middle])
            # The centre lies square to the heading, on the side the wing is down.
            side = np.sign(series.bank_deg[middle])
            east = float(series.air_east_nm[middle] + side * radius * np.cos(heading))
            north = float(series.air_north_nm[middle] - side * radius * np.sin(heading))
            angle = np.linspace(0, 2 * np.pi, 73)
            circle = (east + radius * np.sin(angle), north + radius * np.cos(angle))
            sheet.line(*circle, "band", 6.0, layer="ideal", circuit=number)
            sheet.line(*circle, "pencil", 1.0, (2.0, 2.4), layer="ideal", circuit=number)


def _fix_seen(sheet: Sheet, series: HoldSeries, span: Span) -> None:
    at = int(np.argmin(np.abs(series.time_s - span.start_s)))
    east, north = float(series.drift_east_nm[at]), float(series.drift_north_nm[at])
    symbols.fix(sheet, east, north, layer="drift")
    letter_free(sheet, (east, north), [(str(span.circuit), "circle")], 0.0, layer="flown-numbers",
                clear_of=("flown", "ideal", "drift"), circuit=span.circuit)  # fmt: skip
