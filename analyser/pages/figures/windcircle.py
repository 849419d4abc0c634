"""The wind circle: at constant airspeed, ground velocities lie round the wind at the distance of the TAS."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.pages.figures import symbols
from analyser.pages.figures.placing import letter_free
from analyser.pages.figures.sheet import Sheet
from analyser.pages.words import nice_step, number

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class WindCircle:
    """What the picture shows, all in knots.

    Attributes
    ----------
    ground_east_kt, ground_north_kt : (n,) float array
    wind_east_kt, wind_north_kt : float
        Towards.
    wind_sd_kt : float or None
        One sigma per axis.
    tas_kt : float
    tas_sd_kt : float or None
    circuits : tuple of (number, east_kt, north_kt)
        The wind of each circuit.
    texts : (magnetic, true)
        The wind in words.
    """

    ground_east_kt: FloatArray
    ground_north_kt: FloatArray
    wind_east_kt: float
    wind_north_kt: float
    wind_sd_kt: float | None
    tas_kt: float
    tas_sd_kt: float | None
    circuits: tuple[tuple[int, float, float], ...]
    texts: tuple[str, str]


def wind_circle(circle: WindCircle) -> Sheet:
    """Draw the ground velocities, the circle through them, and how well its centre is known."""
    reach = 1.12 * (circle.tas_kt + max(abs(circle.wind_east_kt), abs(circle.wind_north_kt)))
    sheet = Sheet(360.0, 360.0, (-reach, reach, -reach, reach))
    _axes(sheet, reach)
    wind = (circle.wind_east_kt, circle.wind_north_kt)
    if circle.tas_sd_kt is not None and circle.wind_sd_kt is not None:
        # Both uncertainties widen the ring in which the points should lie.
        _ring_area(sheet, wind, circle.tas_kt, 2 * math.hypot(circle.tas_sd_kt, circle.wind_sd_kt))
    symbols.ring(sheet, circle.tas_kt, *wind, ink="pencil", width=1.2, dash=(2.0, 2.4), layer="circle")
    _points(sheet, circle)
    _centre(sheet, circle)
    return sheet


def _axes(sheet: Sheet, reach: float) -> None:
    sheet.line([-reach, reach], [0, 0], "rule", 0.9, layer="axis")
    sheet.line([0, 0], [-reach, reach], "rule", 0.9, layer="axis")
    step = nice_step(reach, 4)
    for radius in np.arange(step, reach, step):
        symbols.ring(sheet, float(radius), layer="axis")
        sheet.letter(0.0, -float(radius), f"{number(float(radius))} kt", "tick", "start", right=3, up=2)
    sheet.letter(0.0, reach, "N", "note", up=-12)
    sheet.letter(reach, 0.0, "E", "note", "end", right=-3, up=-12)


def _ring_area(sheet: Sheet, centre: tuple[float, float], radius: float, half: float) -> None:
    angle = np.linspace(0, 2 * np.pi, 97)
    around = np.concatenate((angle, angle[::-1]))
    distance = np.concatenate((np.full(97, radius + half), np.full(97, max(radius - half, 0.0))))
    east, north = centre[0] + distance * np.sin(around), centre[1] + distance * np.cos(around)
    sheet.area(east, north, "band", layer="circle")


def _points(sheet: Sheet, circle: WindCircle) -> None:
    # Each point is a dash as long as it is thick: a square of one short path piece.
    size = 1.25 * (sheet.window[1] - sheet.window[0]) / sheet.width
    east, north = circle.ground_east_kt[:, None], circle.ground_north_kt[:, None]
    ends = np.array([-size, size, np.nan])
    sheet.line((east + ends).ravel(), (north + 0.0 * ends).ravel(), "out", 2.5, opacity=0.75, layer="points")


def _centre(sheet: Sheet, circle: WindCircle) -> None:
    east, north = circle.wind_east_kt, circle.wind_north_kt
    sheet.line([0, east], [0, north], "air", 2.2, layer="wind")
    if circle.wind_sd_kt is not None:
        angle = np.linspace(0, 2 * np.pi, 49)
        away = 2 * circle.wind_sd_kt
        disc = (east + away * np.sin(angle), north + away * np.cos(angle))
        sheet.area(*disc, "air", opacity=0.3, edge="air", layer="wind")
    size = 4.0 * (sheet.window[1] - sheet.window[0]) / sheet.width
    sheet.line([east - size, east + size], [north, north], "ink", 1.2, layer="wind")
    sheet.line([east, east], [north - size, north + size], "ink", 1.2, layer="wind")
    letters = [
        (text, f"note {kind}") for text, kind in zip(circle.texts, ("when-mag", "when-tru"), strict=True)
    ]
    letter_free(sheet, (east, north), letters, math.degrees(math.atan2(east, north)), layer="lettering",
                clear_of=("wind", "points"))  # fmt: skip
