"""Flights drawn by hand in still air: heading changes second by second, laid over a fix on an inbound course."""

from __future__ import annotations

import numpy as np

from analyser.earth.plane import LocalPlane
from analyser.logs.track import Track

#: Rate one at 110 kt; the fix, and the course to it.
RATE_DPS, SPEED_NM_S = 3.0, 110.0 / 3600.0
FIX, COURSE_DEG = (44.0, 9.0), 25.0
#: A lap's legs, seconds: from wings level to the fix, and as long outbound.
LEG_S = 60


def turn(by_deg: float) -> list[float]:
    """Turn by an angle at rate one: heading changes, second by second."""
    seconds = max(round(abs(by_deg) / RATE_DPS), 1)
    return [by_deg / seconds] * seconds


def straight(seconds: int) -> list[float]:
    return [0.0] * seconds


def drawn(before: list[float], after: list[float]) -> Track:
    """Lay two ways end to end so that the first ends and the second begins over the fix, on the inbound course."""
    changes = np.array([*before, *after])
    start_deg = COURSE_DEG - sum(before)
    heading = np.radians(start_deg + np.cumsum(changes))
    east = np.cumsum(SPEED_NM_S * np.sin(heading))
    north = np.cumsum(SPEED_NM_S * np.cos(heading))
    over = len(before) - 1
    lat, lon = LocalPlane(*FIX).to_earth(east - east[over], north - north[over])
    level = np.full(changes.size, 4000.0)
    return Track("drawn", "table", "", np.arange(float(changes.size)), lat, lon, {"altitude_ft": level})


def laps(number: int, side: int) -> list[float]:
    return [*turn(180.0 * side), *straight(LEG_S), *turn(180.0 * side), *straight(LEG_S)] * number
