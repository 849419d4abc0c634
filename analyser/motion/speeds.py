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
from analyser.motion.motion_thresholds import REPORTED
from analyser.motion.path import Path, Velocities
from analyser.motion.spline import Spline
from analyser.motion.windfit import WindFit

#: Lags of reported speeds behind the path that are looked for, seconds.
SPEED_LAGS_S = np.arange(-20.0, 20.5, 0.5)


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
    alike = abs(float(np.median(speed / own)) - 1.0) < REPORTED.alike_share
    if (
        not alike
        or np.std(np.diff(own)) < REPORTED.rougher_ratio * np.std(np.diff(speed)) + REPORTED.rough_step_kt
    ):
        return velocity
    return velocity * (speed / own)[:, None]


def reported_velocities(track: Track, path: Spline) -> Velocities | None:
    """Take a log's own ground speed and track as measurements, as good as they prove against the positions' path.

    None where no ground speed is reported, or what is called so is something else.
    """
    speed_kt, track_deg = track.channel("ground_speed_kt"), track.channel("track_true_deg")
    end_s = path.start_s + (len(path.coefficients) - 4) * path.step_s
    known = np.isfinite(speed_kt) & (track.time_s >= path.start_s) & (track.time_s <= end_s)
    if known.sum() < REPORTED.fewest_speeds or np.ptp(speed_kt[known]) == 0.0:
        return None
    speed = speed_kt[known] / KT_PER_MPS
    fine_s = np.arange(path.start_s, end_s)
    lag_s = _lag_of(track.time_s[known], speed, fine_s, np.hypot(*path.at(fine_s, 1).T))
    time_s = np.clip(track.time_s[known] + lag_s, path.start_s, end_s)
    share = _share_of_way(path, time_s, speed)
    if share is None or abs(share[0] - 1.0) > REPORTED.alike_share or share[1] > REPORTED.worst_share:
        return None
    velocity = path.at(time_s, 1)
    way = np.arctan2(velocity[:, 0], velocity[:, 1])
    along_sd = np.maximum(share[1] * speed, REPORTED.least_speed_mps)
    across_sd = np.full(time_s.size, np.inf)
    reported = np.radians(track_deg[known])
    sure = np.isfinite(reported)
    if sure.mean() > 0.5 and not track.errors.interpolated:
        track_sd = max(robust_sigma(wrap180(np.degrees((reported - way)[sure]))), REPORTED.least_track_deg)
        if track_sd < REPORTED.worst_track_deg:
            way = np.where(sure, reported, way)
            across_sd = np.where(sure, np.radians(track_sd) * np.maximum(speed, 1.0), np.inf)
    direction = np.column_stack([np.sin(way), np.cos(way)])
    shared = np.sqrt(max(1.0, REPORTED.reported_memory_s / max(float(np.median(np.diff(time_s))), 0.1)))
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
    sound = np.abs(own - np.interp(own_s, time_s, speed)) < REPORTED.sound_share * np.maximum(own, 1.0)
    if sound.sum() < REPORTED.fewest_sound:
        return 0.0
    speed = speed * float(np.median(own[sound] / np.interp(own_s[sound], time_s, speed)))
    # A place's error makes one step too long and the next one too short; a lag makes many steps so.
    points = max(1, round(REPORTED.lag_over_s / max(float(np.median(np.diff(own_s[sound]))), 1e-3)))
    over = np.ones(points) / points
    off = [
        float(np.median(np.abs(np.convolve(own[sound] - np.interp(own_s[sound] - lag, time_s, speed), over))))
        for lag in SPEED_LAGS_S
    ]
    best, none = int(np.argmin(off)), off[int(np.argmin(np.abs(SPEED_LAGS_S)))]
    return (
        float(SPEED_LAGS_S[best])
        if off[best] < REPORTED.sure_lag_share * none and none > REPORTED.least_speed_mps
        else 0.0
    )


def _share_of_way(path: Spline, time_s: FloatArray, speed: FloatArray) -> tuple[float, float] | None:
    """Hold the way that the reported speeds add up to against the path, minute by minute: (median share, its sigma).

    Over a minute a clock's errors matter little; what is left is the speed's own.
    """
    flown = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time_s))])
    fine = np.arange(time_s[0], time_s[-1], 1.0)
    velocity = path.at(fine, 1)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(velocity[:, 0], velocity[:, 1]))])
    bounds = np.arange(time_s[0], time_s[-1] - REPORTED.share_over_s, REPORTED.share_over_s / 2.0)
    if bounds.size < 3:
        return None
    told = np.interp(bounds + REPORTED.share_over_s, time_s, flown) - np.interp(bounds, time_s, flown)
    went = np.interp(bounds + REPORTED.share_over_s, fine, way[:-1]) - np.interp(bounds, fine, way[:-1])
    shares = told / np.maximum(went, 1.0)
    middle = float(np.median(shares))
    return middle, robust_sigma(shares - middle)


def held_airspeed(
    fit: WindFit, path: Path, grid: FloatArray, use: NDArray[np.bool_], altitude_ft: FloatArray
) -> Velocities:
    """Say as a measurement that the pilot held an indicated airspeed in the wind that was found from a path.

    ``use`` says where on the grid wind and airspeed were fitted.
    """
    pick = np.flatnonzero(use)[:: REPORTED.held_every_s]
    velocity = path.spline.at(grid[pick], 1)
    wind = np.column_stack(fit.wind(grid[pick])[:2]) / KT_PER_MPS
    air = velocity - wind
    tas = np.maximum(np.hypot(air[:, 0], air[:, 1]), 1.0)
    held = np.full(pick.size, float(np.median(tas)))
    if np.isfinite(altitude_ft).all():
        height = altitude_ft[pick]
        ias = float(np.median(np.asarray(tas_to_cas(tas * KT_PER_MPS, height))))
        held = np.asarray(cas_to_tas(np.full(pick.size, ias), height)) / KT_PER_MPS
    sd = max(fit.speed_noise.sigma, REPORTED.held_kt) / KT_PER_MPS
    near = np.abs(tas - held) < REPORTED.other_speed_sd * np.hypot(sd, path.along_sd_kt[pick] / KT_PER_MPS)
    direction = air / tas[:, None]
    # What is measured is the component along the air's own direction: the wind's part of it and the airspeed.
    along = held + (wind * direction).sum(axis=1)
    shared = np.sqrt(max(1.0, 2.0 * REPORTED.held_memory_s / REPORTED.held_every_s))
    sds = np.where(near, sd * shared, np.inf)
    return Velocities(grid[pick], direction * along[:, None], direction, sds, np.full(pick.size, np.inf))


def both(one: Velocities | None, other: Velocities | None) -> Velocities | None:
    """Put measurements of the velocity together."""
    if one is None or other is None:
        return one or other
    return Velocities(
        **{name: np.concatenate([series, getattr(other, name)]) for name, series in vars(one).items()}
    )
