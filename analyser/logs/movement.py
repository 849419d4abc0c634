"""Movement from positions alone: displacements, and a ground velocity to hold other channels against.

Only for cleaning. Metres on the ellipsoid's own radii at each sample's latitude: good to a few parts in a million
over the seconds between samples, and far cheaper than a geodesic for every pair.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.constants import GRAVITY, MPS_PER_KT
from analyser.frozen import dataclass
from analyser.logs.log_thresholds import MOVED

FloatArray = NDArray[np.float64]

#: WGS84 semi-major axis, metres, and first eccentricity squared.
_A_M = 6_378_137.0
_E2 = 6.694379990141e-3
_RADIAN = np.pi / 180.0


def displacements(lat_deg: FloatArray, lon_deg: FloatArray, step: int = 1) -> tuple[FloatArray, FloatArray]:
    """Return how far each sample lies from the one ``step`` samples earlier."""
    return offsets(lat_deg[:-step], lon_deg[:-step], lat_deg[step:], lon_deg[step:])


def unroll(lat_deg: FloatArray, lon_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Add up the steps from sample to sample, even across the date line: metres east and north of the first, (n,)."""
    east, north = displacements(lat_deg, lon_deg)
    return np.concatenate([[0.0], np.cumsum(east)]), np.concatenate([[0.0], np.cumsum(north)])


def offsets(
    from_lat: FloatArray, from_lon: FloatArray, to_lat: FloatArray | float, to_lon: FloatArray | float
) -> tuple[FloatArray, FloatArray]:
    """Return how far points lie from other points, the short way round the date line."""
    # Roots, for a sine is all that is dear; a latitude's cosine is never negative. In place where it can be: for a long
    # log new memory costs as much as the arithmetic.
    sine2 = np.sin((0.5 * _RADIAN) * (from_lat + to_lat))
    sine2 *= sine2
    square = 1.0 - _E2 * sine2
    root = np.sqrt(square)
    square *= root
    north = to_lat - from_lat
    north *= _RADIAN * _A_M * (1.0 - _E2)
    north /= square
    east = to_lon - from_lon
    if np.fmin.reduce(east, initial=0.0) < -180.0 or np.fmax.reduce(east, initial=0.0) >= 180.0:
        east = wrap180(east)
    east *= _RADIAN * _A_M
    east *= np.sqrt(np.subtract(1.0, sine2, out=sine2), out=sine2)
    east /= root
    return east, north


def usual_speed_kt(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> float:
    """Return a speed typical of the faster half of a flight, knots if the times are seconds; 0 for too few samples.

    All values are finite, in any order.
    """
    order = np.argsort(time_s, kind="stable")
    lat, lon, when = lat_deg[order], lon_deg[order], time_s[order]
    step = max(1, min(MOVED.speed_over_rows, when.size // 10))
    if when.size <= step:
        return 0.0
    took = when[step:] - when[:-step]
    with np.errstate(invalid="ignore", over="ignore"):
        moved = np.hypot(*displacements(lat, lon, step))
    use = took > 0.0
    if not use.any():
        return 0.0
    return float(np.percentile(moved[use] / took[use], MOVED.usual_speed_percent)) / MPS_PER_KT


def usual_sideways(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> float:
    """Return the acceleration to the side, m/s², in which half of all turning is done at least.

    0 where the flight makes no circle in all, or its samples lie too far apart to tell. All values are finite.
    """
    if time_s.size < 3:
        return 0.0
    order = np.argsort(time_s, kind="stable")
    lat, lon = lat_deg[order], lon_deg[order]
    step_m = float(np.median(np.hypot(*displacements(lat, lon))))
    # In so long a chord no turn hides, and no receiver's noise makes one.
    few = slice(None, None, max(1, round(MOVED.chord_m / max(step_m, 1e-3))))
    east, north = displacements(lat[few], lon[few])
    came_s = np.diff(time_s[order][few])
    use = (came_s > 0.0) & (east**2 + north**2 > 0.0)
    velocity = (east[use] + 1j * north[use]) / came_s[use]
    turned = np.angle(velocity[1:] * velocity[:-1].conj())
    if step_m > MOVED.longest_chord_m or turned.size < 3 or np.ptp(np.cumsum(turned)) < 2.0 * np.pi:
        return 0.0
    size = np.abs(turned)
    sideways = size * np.abs(velocity[1:] + velocity[:-1]) / (came_s[use][1:] + came_s[use][:-1])
    rank = np.argsort(sideways)
    return float(sideways[rank][np.searchsorted(np.cumsum(size[rank]), 0.5 * size.sum())])


def is_flying_speed(speed_kt: float) -> bool:
    """Tell whether flying aircraft move so: it settles seconds against milliseconds."""
    return MOVED.flying_kt[0] <= speed_kt <= MOVED.flying_kt[1]


@dataclass(frozen=True)
class Movement:
    """Ground velocity at some samples, by a straight line over a few seconds."""

    #: Samples of the log.
    index: NDArray[np.intp]
    time_s: FloatArray
    speed_kt: FloatArray
    #: In [0, 360); and its rate, positive right.
    track_deg: FloatArray
    turn_dps: FloatArray

    @cached_property
    def flying(self) -> NDArray[np.bool_]:
        """Where the aircraft moves faster than it taxies."""
        return self.speed_kt > MOVED.taxi_kt

    @cached_property
    def eighth(self) -> NDArray[np.intp]:
        """In which eighth of the circle the track leads, 0 … 7."""
        return (self.track_deg // 45.0).astype(int) % 8

    def beside(self, values: FloatArray) -> tuple[FloatArray, Movement]:
        """Return a channel's values where the aircraft flies and they are known, and the movement there."""
        here = values[self.index]
        use = self.flying & np.isfinite(here)
        return here[use], self.take(use)

    def take(self, use: NDArray[np.bool_]) -> Movement:
        """Return the movement at some of the samples."""
        time_s, speed_kt, track_deg, turn_dps = (
            column[use] for column in (self.time_s, self.speed_kt, self.track_deg, self.turn_dps)
        )
        return Movement(self.index[use], time_s, speed_kt, track_deg, turn_dps)

    @cached_property
    def expected_bank_deg(self) -> FloatArray:
        """The bank that the sideways acceleration over the ground takes, positive right: tan φ = V ω / g.

        Steady wind changes it only by the drift's cosine.
        """
        sideways = self.speed_kt * MPS_PER_KT * np.radians(self.turn_dps)
        return np.degrees(np.arctan2(sideways, GRAVITY))


def movement(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> Movement:
    """Derive ground velocity from clean positions, except beside a hole."""
    interval = float(np.median(np.diff(time_s)))
    reach = max(1, int(np.ceil(0.5 * MOVED.line_s / max(interval, 1e-3))))
    centres = np.arange(reach, time_s.size - reach, max(1, time_s.size // MOVED.enough_samples))
    if centres.size == 0:
        empty = np.empty(0)
        return Movement(centres, empty, empty, empty, empty)
    before, after = centres - reach, centres + reach
    first = offsets(lat_deg[before], lon_deg[before], lat_deg[centres], lon_deg[centres])
    second = offsets(lat_deg[centres], lon_deg[centres], lat_deg[after], lon_deg[after])
    dt1, dt2 = time_s[centres] - time_s[before], time_s[after] - time_s[centres]
    east, north = (first[0] + second[0]) / (dt1 + dt2), (first[1] + second[1]) / (dt1 + dt2)
    track = np.degrees(np.arctan2(east, north)) % 360.0
    turned = wrap180(
        np.degrees(np.arctan2(second[0], second[1])) - np.degrees(np.arctan2(first[0], first[1]))
    )
    whole = (dt1 + dt2) < MOVED.hole_ratio * 2 * reach * max(interval, 1e-9)
    speed = np.hypot(east, north) / MPS_PER_KT
    turn = turned / (0.5 * (dt1 + dt2))
    return Movement(centres, time_s[centres], speed, track, turn).take(whole)
