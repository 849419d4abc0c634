"""Speeds as measurements of their own: what a log reports of its ground velocity, and the airspeed a pilot holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.atmosphere import cas_to_tas, tas_to_cas
from analyser.earth.constants import KT_PER_MPS
from analyser.logs.track import FloatArray, Track
from analyser.logs.track_errors import robust_sigma
from analyser.motion.airdata import logged
from analyser.motion.path import Path, Velocities
from analyser.motion.spline import Spline
from analyser.motion.windfit import WindFit

#: Positions are too rough to differentiate where their speed jumps this many times as much as the logged
#: one, and by this much more in any case, knots from second to second.
ROUGHER, ROUGH_STEP_KT = 2.0, 0.7
#: A reported ground speed is one if its median is within this share of the path's.
ALIKE = 0.05
#: A reported velocity is not believed beyond this: a knot of rounding and lag, a degree of track.
LEAST_SPEED_MPS, LEAST_TRACK_DEG = 0.5, 1.0
#: Speed and path are compared over so long, seconds; a speed that is off by more than this share, rms, is not used,
#: nor a track that is off by so many degrees.
SHARE_OVER_S, WORST_SHARE, WORST_TRACK_DEG = 60.0, 0.1, 20.0
#: Lags of reported speeds behind the path that are looked for, seconds.
SPEED_LAGS_S = np.arange(-20.0, 20.5, 0.5)
#: A lag of the reported speeds is believed where it leaves this share of the differences.
SURE_LAG = 0.7
#: … averaged over so many seconds.
LAG_OVER_S = 8.0
#: Fewer reported speeds than the first tell nothing; a lag is told by so many that are right to this share.
FEWEST_SPEEDS, FEWEST_SOUND, SOUND_SHARE = 10, 20, 0.2
#: Errors of a reported velocity (lag, filter) last so long, seconds: nearer readings share them.
REPORTED_MEMORY_S = 10.0
#: A pilot's airspeed about the one held: at least this, knots, with this memory, seconds (tens, common practice).
HELD_KT, HELD_MEMORY_S = 3.0, 20.0
#: Where the path's airspeed is further off than so many sigmas, another speed was held.
OTHER_SPEED_SD = 3.0
#: The airspeed held is put in every so many seconds.
HELD_EVERY_S = 4


def smoother_velocity(track: Track, grid: FloatArray, velocity: FloatArray) -> FloatArray:
    """Take the speed, (n, 2) knots, from the log where its positions are too rough to differentiate and it is not.

    A receiver's own ground speed comes from Doppler shifts; positions that were rounded or held on their way to the log
    say little about speed from second to second.
    """
    speed = logged(track, "ground_speed_kt", grid)
    if speed is None:
        return velocity
    own = np.maximum(np.hypot(velocity[:, 0], velocity[:, 1]), 1.0)
    late = logged(track, "ground_speed_kt", grid - _lag_of(grid, speed, grid, own))
    speed = speed if late is None else late
    alike = abs(float(np.median(speed / own)) - 1.0) < ALIKE
    if not alike or np.std(np.diff(own)) < ROUGHER * np.std(np.diff(speed)) + ROUGH_STEP_KT:
        return velocity
    return velocity * (speed / own)[:, None]


def reported_velocities(track: Track, path: Spline) -> Velocities | None:
    """Take a log's own ground speed and track as measurements, as good as they prove against the positions' path.

    None where no ground speed is reported, or what is called so is something else.
    """
    speed_kt, track_deg = track.channel("ground_speed_kt"), track.channel("track_true_deg")
    end_s = path.start_s + (len(path.coefficients) - 4) * path.step_s
    known = np.isfinite(speed_kt) & (track.time_s >= path.start_s) & (track.time_s <= end_s)
    if known.sum() < FEWEST_SPEEDS or np.ptp(speed_kt[known]) == 0.0:
        return None
    speed = speed_kt[known] / KT_PER_MPS
    fine_s = np.arange(path.start_s, end_s)
    lag_s = _lag_of(track.time_s[known], speed, fine_s, np.hypot(*path.at(fine_s, 1).T))
    time_s = np.clip(track.time_s[known] + lag_s, path.start_s, end_s)
    share = _share_of_way(path, time_s, speed)
    if share is None or abs(share[0] - 1.0) > ALIKE or share[1] > WORST_SHARE:
        return None
    velocity = path.at(time_s, 1)
    way = np.arctan2(velocity[:, 0], velocity[:, 1])
    along_sd = np.maximum(share[1] * speed, LEAST_SPEED_MPS)
    across_sd = np.full(time_s.size, np.inf)
    reported = np.radians(track_deg[known])
    sure = np.isfinite(reported)
    if sure.mean() > 0.5 and not track.errors.interpolated:
        track_sd = max(robust_sigma(wrap180(np.degrees((reported - way)[sure]))), LEAST_TRACK_DEG)
        if track_sd < WORST_TRACK_DEG:
            way = np.where(sure, reported, way)
            across_sd = np.where(sure, np.radians(track_sd) * np.maximum(speed, 1.0), np.inf)
    direction = np.column_stack([np.sin(way), np.cos(way)])
    shared = np.sqrt(max(1.0, REPORTED_MEMORY_S / max(float(np.median(np.diff(time_s))), 0.1)))
    return Velocities(
        time_s,
        direction * speed[:, None],
        direction,
        np.full(time_s.size, along_sd * shared),
        across_sd * shared,
    )


def _lag_of(time_s: FloatArray, speed: FloatArray, own_s: FloatArray, own: FloatArray) -> float:
    """Return by how much speeds have to be put later to be those of the way, at its own times; 0 where unclear.

    A feed that reports the speed of the step after or before a row is half a step off, one that averages it more, which
    in a turn is many degrees.
    """
    # A step with a wrong time says nothing.
    sound = np.abs(own - np.interp(own_s, time_s, speed)) < SOUND_SHARE * np.maximum(own, 1.0)
    if sound.sum() < FEWEST_SOUND:
        return 0.0
    speed = speed * float(np.median(own[sound] / np.interp(own_s[sound], time_s, speed)))
    # A place's error makes one step too long and the next one too short; a lag makes many steps so.
    points = max(1, round(LAG_OVER_S / max(float(np.median(np.diff(own_s[sound]))), 1e-3)))
    over = np.ones(points) / points
    off = [
        float(np.median(np.abs(np.convolve(own[sound] - np.interp(own_s[sound] - lag, time_s, speed), over))))
        for lag in SPEED_LAGS_S
    ]
    best, none = int(np.argmin(off)), off[int(np.argmin(np.abs(SPEED_LAGS_S)))]
    return float(SPEED_LAGS_S[best]) if off[best] < SURE_LAG * none and none > LEAST_SPEED_MPS else 0.0


def _share_of_way(path: Spline, time_s: FloatArray, speed: FloatArray) -> tuple[float, float] | None:
    """Hold the way that the reported speeds add up to against the path, minute by minute: (median share, its sigma).

    Over a minute a clock's errors matter little; what is left is the speed's own.
    """
    flown = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time_s))])
    fine = np.arange(time_s[0], time_s[-1], 1.0)
    velocity = path.at(fine, 1)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(velocity[:, 0], velocity[:, 1]))])
    bounds = np.arange(time_s[0], time_s[-1] - SHARE_OVER_S, SHARE_OVER_S / 2.0)
    if bounds.size < 3:
        return None
    told = np.interp(bounds + SHARE_OVER_S, time_s, flown) - np.interp(bounds, time_s, flown)
    went = np.interp(bounds + SHARE_OVER_S, fine, way[:-1]) - np.interp(bounds, fine, way[:-1])
    shares = told / np.maximum(went, 1.0)
    middle = float(np.median(shares))
    return middle, robust_sigma(shares - middle)


def held_airspeed(
    fit: WindFit, path: Path, grid: FloatArray, use: NDArray[np.bool_], altitude_ft: FloatArray
) -> Velocities:
    """Say as a measurement that the pilot held an indicated airspeed in the wind that was found from a path.

    ``use`` says where on the grid wind and airspeed were fitted.
    """
    pick = np.flatnonzero(use)[::HELD_EVERY_S]
    velocity = path.spline.at(grid[pick], 1)
    wind = np.column_stack(fit.wind(grid[pick])[:2]) / KT_PER_MPS
    air = velocity - wind
    tas = np.maximum(np.hypot(air[:, 0], air[:, 1]), 1.0)
    held = np.full(pick.size, float(np.median(tas)))
    if np.isfinite(altitude_ft).all():
        height = altitude_ft[pick]
        ias = float(np.median(np.asarray(tas_to_cas(tas * KT_PER_MPS, height))))
        held = np.asarray(cas_to_tas(np.full(pick.size, ias), height)) / KT_PER_MPS
    sd = max(fit.speed_noise.sigma, HELD_KT) / KT_PER_MPS
    near = np.abs(tas - held) < OTHER_SPEED_SD * np.hypot(sd, path.along_sd_kt[pick] / KT_PER_MPS)
    direction = air / tas[:, None]
    # What is measured is the component along the air's own direction: the wind's part of it and the airspeed.
    along = held + (wind * direction).sum(axis=1)
    shared = np.sqrt(max(1.0, 2.0 * HELD_MEMORY_S / HELD_EVERY_S))
    sds = np.where(near, sd * shared, np.inf)
    return Velocities(grid[pick], direction * along[:, None], direction, sds, np.full(pick.size, np.inf))


def both(one: Velocities | None, other: Velocities | None) -> Velocities | None:
    """Put measurements of the velocity together."""
    if one is None or other is None:
        return one or other
    return Velocities(
        **{name: np.concatenate([series, getattr(other, name)]) for name, series in vars(one).items()}
    )
