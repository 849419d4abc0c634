"""Long invented flights, hold after hold, made quickly: for the tests and benchmarks of many and of long logs.

Air velocity plus wind, added up in steps of a tenth of a second: nothing here is taken from the analyser. Every
half hour the aircraft arrives along the inbound course, flies four laps, leaves straight ahead and turns 72° to
the next fix; wind and all turn with it, so that five such stages make a pentagon and no flight leaves its country.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

STEP_S = 0.1
START = datetime(2026, 3, 14, 9, 0, tzinfo=UTC)
RATE_DPS, ROLL_S = 3.0, 4.0
ARRIVE_S, LEAVE_S, NEXT_S = 300.0, 180.0, 240.0
#: The same for a stage of given length, in which there is no time to lose.
SHORT_ARRIVE_S, SHORT_LEAVE_S = 180.0, 120.0
STAGE_TURN_DEG = -72.0
NM_PER_DEGREE = 60.0


@dataclass(frozen=True)
class Flown:
    """Positions of an invented flight."""

    time_s: FloatArray
    lat: FloatArray
    lon: FloatArray
    altitude_ft: FloatArray


def flight(
    samples: int,
    interval_s: float = 1.0,
    *,
    tas_kt: float = 105.0,
    wind_kt: complex = 6.0 - 12.0j,
    laps: int = 4,
    course_deg: float = 230.0,
    noise_m: float = 1.0,
    seed: int = 1,
    stage_s: float | None = None,
    begin_s: float = 0.0,
) -> Flown:
    """Fly stage after stage for as many samples as are wanted.

    ``wind_kt`` is towards: its real part along the inbound course, its imaginary part to the right of it. With
    ``stage_s`` every stage is that long, so that the number of holds is in proportion to the length; with
    ``begin_s`` the recorder is switched on so late.
    """
    stage_nm = _stage(tas_kt, wind_kt, laps, stage_s)
    time_s = np.arange(samples) * interval_s
    number, place = np.divmod((begin_s + time_s) / STEP_S, stage_nm.size - 1)
    within = np.interp(place, np.arange(stage_nm.size), stage_nm.real) + 1j * np.interp(
        place, np.arange(stage_nm.size), stage_nm.imag
    )
    turned = np.exp(1j * np.radians(STAGE_TURN_DEG) * np.arange(int(number[-1]) + 2))
    begun = np.concatenate([[0.0], np.cumsum(stage_nm[-1] * turned)])
    path = begun[number.astype(int)] + within * turned[number.astype(int)]
    # Real part north, imaginary part east, once the inbound course is turned to where it lies.
    path = path * np.exp(1j * np.radians(course_deg))
    scatter = np.random.default_rng(seed).normal(0.0, noise_m / 1852.0, (2, samples))
    lat = 48.3 + (path.real + scatter[0]) / NM_PER_DEGREE
    lon = 11.2 + (path.imag + scatter[1]) / (NM_PER_DEGREE * np.cos(np.radians(lat)))
    return Flown(time_s, lat, lon, 4000.0 + 30.0 * np.sin(time_s / 67.0))


@lru_cache(maxsize=8)
def _stage(tas_kt: float, wind_kt: complex, laps: int, stage_s: float | None) -> NDArray[np.complex128]:
    """One stage along its own inbound course (real) and to the right of it (imaginary), nautical miles."""
    from scipy.optimize import root

    inbound_deg = -np.degrees(np.arcsin(wind_kt.imag / tas_kt))

    def lap(outbound_deg: float, outbound_s: float) -> FloatArray:
        first = (outbound_deg - inbound_deg) / RATE_DPS
        second = (360.0 + inbound_deg - outbound_deg) / RATE_DPS
        return np.concatenate(
            [_turning(first), _straight(outbound_s - ROLL_S), _turning(second), _straight(60.0 - ROLL_S)]
        )

    def miss(guess: FloatArray) -> list[float]:
        end = _add_up(lap(*guess), inbound_deg, tas_kt, wind_kt)[-1]
        return [end.real, end.imag]

    # The grid of the steps makes the miss a staircase in time: the root finder needs steps it can see.
    found = root(miss, [180.0 - 3.0 * inbound_deg, 60.0], options={"eps": 2e-2, "xtol": 1e-5})
    arrive_s, leave_s = (ARRIVE_S, LEAVE_S) if stage_s is None else (SHORT_ARRIVE_S, SHORT_LEAVE_S)
    rates = np.concatenate([_straight(arrive_s), *[lap(*found.x)] * laps, _straight(leave_s)])
    turn = -_turning(abs(STAGE_TURN_DEG) / RATE_DPS)
    next_s = NEXT_S if stage_s is None else stage_s - (rates.size + turn.size) * STEP_S
    turn = np.concatenate([turn, _straight(next_s)])
    wind = np.full(rates.size + turn.size, wind_kt)
    swing = np.linspace(0.0, 1.0, turn.size)
    wind[rates.size :] *= np.exp(1j * np.radians(STAGE_TURN_DEG) * swing)
    return _add_up(np.concatenate([rates, turn]), inbound_deg, tas_kt, wind)


def _straight(seconds: float) -> FloatArray:
    return np.zeros(round(max(seconds, 0.0) / STEP_S))


def _turning(seconds: float) -> FloatArray:
    """Roll in and out evenly; the area under the rate is the angle whatever the grid of steps."""
    steps, roll = round(seconds / STEP_S), round(ROLL_S / STEP_S)
    rates = np.convolve(np.ones(steps), np.ones(roll) / roll)
    return rates * (RATE_DPS * seconds / (rates.sum() * STEP_S))


def _add_up(
    rates: FloatArray, heading_deg: float, tas_kt: float, wind_kt: complex | NDArray[np.complex128]
) -> NDArray[np.complex128]:
    turned = np.cumsum(rates) * STEP_S
    middle = np.radians(heading_deg + turned - 0.5 * rates * STEP_S)
    velocity = tas_kt * np.exp(1j * middle) + wind_kt
    return np.concatenate([[0.0], np.cumsum(velocity)]) * STEP_S / 3600.0


def write_gpx(flown: Flown, path: Path, *, start: datetime = START) -> Path:
    """Write positions as GPX 1.1."""
    with path.open("w", encoding="utf-8") as file:
        file.write(
            '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="invented" '
            'xmlns="http://www.topografix.com/GPX/1/1"><trk><name>invented</name><trkseg>\n'
        )
        for t, lat, lon, alt in zip(flown.time_s, flown.lat, flown.lon, flown.altitude_ft, strict=True):
            when = (start + timedelta(seconds=float(t))).isoformat(timespec="milliseconds")[:-6]
            file.write(
                f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{alt * 0.3048:.2f}</ele>'
                f"<time>{when}Z</time></trkpt>\n"
            )
        file.write("</trkseg></trk></gpx>\n")
    return path


def lesson_and_transit(folder: Path) -> Path:
    """Write one flight with a hold of two laps, and one without, to a folder; return it."""
    write_gpx(flight(1000, laps=2), folder / "lesson.gpx")
    write_gpx(flight(290), folder / "transit.gpx")
    return folder
