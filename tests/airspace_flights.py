"""Flights for the tests of the holding area: stepped through moving air, or made of given points.

Nothing of the analyser's arithmetic is used: headings, speeds and wind are added up second by second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold, Leg, Turn
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import FixBy, Hold, LegLimit
from analyser.motion.motion import Motion

STEP_S = 1.0


@dataclass(frozen=True)
class Flier:
    """A point mass in steady wind, in the hold's frame: headings from the inbound course, wind TOWARDS."""

    tas_kt: float
    wind_along_kt: float = 0.0
    wind_cross_kt: float = 0.0
    rate_dps: float = 3.0
    side: int = 1

    def lap(
        self,
        *,
        delay_s: float = 0.0,
        outbound_s: float = 60.0,
        heading_error_deg: float = 0.0,
        inbound_s: float = 0.0,
        step_s: float = 0.5,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Fly one lap from the fix by still-air headings: no wind correction at all."""
        turn_s = 180.0 / self.rate_dps
        plan = [
            (delay_s, 0.0),
            (turn_s, self.rate_dps),
            (outbound_s, 0.0),
            (turn_s, self.rate_dps),
            (inbound_s, 0.0),
        ]
        along, cross, heading = [0.0], [0.0], 0.0
        for number, (seconds, rate) in enumerate(plan):
            error = heading_error_deg if number == 2 else 0.0
            count = max(1, round(seconds / step_s))
            dt = seconds / count
            for _ in range(count if seconds > 0.0 else 0):
                heading += 0.5 * rate * dt
                direction = math.radians(heading + error)
                along.append(
                    along[-1] + (self.tas_kt * math.cos(direction) + self.wind_along_kt) * dt / 3600.0
                )
                across = self.side * self.tas_kt * math.sin(direction)
                cross.append(cross[-1] + (across + self.wind_cross_kt) * dt / 3600.0)
                heading += 0.5 * rate * dt
        return np.array(along), np.array(cross)


def flown_hold(
    along_nm: np.ndarray,
    cross_nm: np.ndarray,
    *,
    laps: int,
    course_deg: float = 0.0,
    turns: str = "right",
    ias_kt: float = 110.0,
    altitude_ft: float = 4000.0,
    entry_points: int = 0,
    given: bool = True,
    fix_sd_nm: float | None = None,
    in_hole: np.ndarray | None = None,
    lat_deg: float = 47.0,
    fix_by: FixBy | None = None,
) -> FlownHold:
    """Wrap points, one a second and equally many to a lap, as a flown hold; each lap in four equal parts."""
    course = math.radians(course_deg)
    count = len(along_nm)
    east = along_nm * math.sin(course) + cross_nm * math.cos(course)
    north = along_nm * math.cos(course) - cross_nm * math.sin(course)
    time = np.arange(count, dtype=float)
    level = {name: np.full(count, value) for name, value in _steady(ias_kt, altitude_ft).items()}
    motion = Motion(
        plane=LocalPlane(lat_deg, 11.0),
        time_s=time,
        east_nm=east,
        north_nm=north,
        in_hole=np.zeros(count, bool) if in_hole is None else in_hole,
        wind_mean_east_kt=0.0,
        wind_mean_north_kt=0.0,
        wind_mean_sd_kt=0.5,
        tas_mean_kt=115.0,
        tas_mean_sd_kt=0.5,
        tas_wander_kt=1.0,
        **level,
    )
    edges = np.linspace(entry_points, count - 1, laps + 1)
    circuits = tuple(_circuit(number, *edges[number - 1 : number + 1]) for number in range(1, laps + 1))
    hold = Hold(
        lat_deg, 11.0, course_deg, turns, LegLimit(minutes=1.0), altitude_ft=altitude_ft, fix_by=fix_by
    )  # type: ignore[arg-type]
    return FlownHold(
        hold=hold,
        inferred=None,
        fix_sd_nm=fix_sd_nm,
        course_sd_deg=None if given else 0.0,
        motion=motion,
        entry=None,
        circuits=circuits,
        start_s=0.0,
        end_s=float(count - 1),
    )


def _steady(ias_kt: float, altitude_ft: float) -> dict[str, float]:
    zero = (
        "ground_east_kt",
        "ground_north_kt",
        "wind_east_kt",
        "wind_north_kt",
        "heading_deg",
        "turn_rate_dps",
    )
    sigma = ("wind_sd_kt", "tas_sd_kt", "heading_sd_deg", "bank_sd_deg")
    steady = dict.fromkeys(zero, 0.0) | dict.fromkeys(sigma, 0.5) | {"bank_deg": 0.0, "tas_kt": 115.0}
    return steady | {"ias_kt": ias_kt, "ias_sd_kt": 1.0, "altitude_ft": altitude_ft}


def _circuit(number: int, start_s: float, end_s: float) -> Circuit:
    quarter = (end_s - start_s) / 4.0
    cuts = [start_s + part * quarter for part in range(5)]
    turns = [
        Turn(begin, finish, 0.5, 0.5, 180.0, 18.0, 0.5, 18.0, 0.5, 3.0, begin, finish)
        for begin, finish in ((cuts[0], cuts[1]), (cuts[2], cuts[3]))
    ]
    legs = [Leg(begin, finish, 0.0, 0.5, 0.0) for begin, finish in ((cuts[1], cuts[2]), (cuts[3], cuts[4]))]
    return Circuit(
        number, start_s, end_s, True, turns[0], legs[0], None, turns[1], legs[1], 0.0, 0.0, 0.5, 115.0, 0.5
    )
