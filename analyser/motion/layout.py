"""A path and its wind laid out as :class:`~analyser.motion.motion.Motion`, with what the log itself says of the air."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.atmosphere import tas_to_cas
from analyser.earth.constants import GRAVITY, KT_PER_MPS, METRES_PER_NM
from analyser.earth.plane import LocalPlane
from analyser.logs.track import FloatArray, Notice, Seam, Track, runs
from analyser.motion.airdata import logged, prove_bank
from analyser.motion.motion import Motion
from analyser.motion.motion_thresholds import LAYOUT, PATH
from analyser.motion.path import Path
from analyser.motion.windfit import WindFit


def lay_out(
    plane: LocalPlane,
    grid: FloatArray,
    path: Path,
    altitude: FloatArray,
    hole: NDArray[np.bool_],
    fit: WindFit,
    obtained: dict[str, str],
    isa_deviation_c: float,
) -> Motion:
    """Work out airspeed, air heading and bank along a path through a wind, each with its sigma.

    On a grid of seconds; altitude in feet is NaN where unknown, and ``hole`` says where nothing was recorded.
    ``obtained`` says how wind and airspeed were come by. The air was so much warmer than standard.
    """
    position = path.spline.at(grid) / METRES_PER_NM
    velocity = path.spline.at(grid, 1) * KT_PER_MPS
    acceleration = path.spline.at(grid, 2)
    wind_east, wind_north, wind_sd = fit.wind(grid)
    air_east, air_north = velocity[:, 0] - wind_east, velocity[:, 1] - wind_north
    tas = np.maximum(np.hypot(air_east, air_north), 1.0)
    # The part of the acceleration across the air velocity is what bank has to provide: V·ω = g·tan(bank).
    across = (air_north * acceleration[:, 0] - air_east * acceleration[:, 1]) / tas
    bank = np.degrees(np.arctan(across / GRAVITY))
    along_sd = np.where(hole, PATH.hole_velocity_kt, path.along_sd_kt)
    across_sd = np.where(hole, PATH.hole_velocity_kt, path.across_sd_kt)
    acceleration_sd = np.where(hole, PATH.hole_acceleration_mps2, path.acceleration_sd)
    mean = fit.mean_wind(float(fit.time_s[0]), float(fit.time_s[-1]))
    inside = (grid >= fit.time_s[0]) & (grid <= fit.time_s[-1])
    tas_sd = np.hypot(wind_sd, along_sd)
    known = np.isfinite(altitude)
    ias = np.where(known, tas_to_cas(tas, np.where(known, altitude, 0.0), isa_deviation_c), np.nan)
    return Motion(
        plane=plane,
        time_s=grid,
        east_nm=position[:, 0],
        north_nm=position[:, 1],
        altitude_ft=altitude,
        ground_east_kt=velocity[:, 0],
        ground_north_kt=velocity[:, 1],
        wind_east_kt=wind_east,
        wind_north_kt=wind_north,
        wind_sd_kt=wind_sd,
        tas_kt=tas,
        tas_sd_kt=tas_sd,
        heading_deg=np.degrees(np.arctan2(air_east, air_north)) % 360.0,
        heading_sd_deg=np.degrees(np.hypot(wind_sd, across_sd) / tas),
        turn_rate_dps=np.degrees(across / (tas / KT_PER_MPS)),
        bank_deg=bank,
        bank_sd_deg=np.degrees(acceleration_sd / GRAVITY) * np.cos(np.radians(bank)) ** 2
        + LAYOUT.least_bank_sd_deg,
        ias_kt=ias,
        ias_sd_kt=np.where(known, tas_sd * ias / tas, np.nan),
        in_hole=hole,
        wind_mean_east_kt=mean[0],
        wind_mean_north_kt=mean[1],
        wind_mean_sd_kt=mean[2],
        tas_mean_kt=float(tas[inside].mean()),
        tas_mean_sd_kt=float(fit.gust_share * fit.speed_noise.mean_sd(float(np.ptp(fit.time_s)))),
        tas_wander_kt=fit.speed_noise.sigma,
        sample_s=path.interval_s,
        obtained={"bank": "derived", "heading": "derived", "ias": "derived", **obtained},
    )


def has_impossible_corners(motion: Motion) -> bool:
    """Tell whether the turning is done in corners that no wing could fly."""
    turned = np.abs(motion.turn_rate_dps)
    impossible = np.abs(motion.bank_deg) > LAYOUT.steepest_bank_deg
    # A corner is over within seconds; who holds such a bank for longer flies it.
    for first, last in runs(impossible):
        if motion.time_s[last - 1] - motion.time_s[first] >= LAYOUT.longest_corner_s:
            impossible[first:last] = False
    return bool(turned[impossible].sum() > LAYOUT.corners_share * turned.sum())


def with_logged(track: Track, motion: Motion, chorded: bool) -> Motion:
    """Let logged bank and airspeed speak where they have proved themselves."""
    notices: list[Notice] = []
    obtained = dict(motion.obtained)
    bank, bank_sd, ias, ias_sd = motion.bank_deg, motion.bank_sd_deg, motion.ias_kt, motion.ias_sd_kt
    raw = logged(track, "bank_deg", motion.time_s)
    if raw is not None and not chorded:
        level = np.abs(motion.bank_deg) < LAYOUT.level_bank_deg
        proved, notice = prove_bank(raw, motion.bank_deg, level)
        notices += [notice] if notice else []
        if proved:
            bank, bank_sd = proved.values, np.full_like(bank, proved.sd)
            obtained["bank"] = "logged"
    logged_ias = logged(track, "ias_kt", motion.time_s)
    if logged_ias is not None:
        ias, ias_sd, obtained["ias"] = logged_ias, np.full_like(ias_sd, 1.0), "logged"
    if obtained["bank"] == "derived" and not chorded:
        notices += _rate_notices(motion)
    notices += _seam_notices(track, motion)
    if chorded:
        bank_sd = np.full_like(bank_sd, LAYOUT.unknown_bank_sd_deg)
        said = "the positions are straight chords between sparse fixes: bank and turn instants cannot be measured"
        notices.append(Notice("positions-chorded", said))
    return replace(
        motion,
        bank_deg=bank,
        bank_sd_deg=bank_sd,
        ias_kt=ias,
        ias_sd_kt=ias_sd,
        obtained=obtained,
        notices=(*motion.notices, *notices),
        seams_s=tuple(seam.time_s for seam in _seams_in(track, motion)),
    )


def _rate_notices(motion: Motion) -> list[Notice]:
    """Say that time may have run faster all along, which nothing else in a log shows, where the turns ask for it."""
    bank = np.abs(motion.bank_deg[~motion.in_hole])
    if np.sum(bank > LAYOUT.unlikely_bank_deg) <= 0.5 * np.sum(bank > LAYOUT.least_turning_bank_deg):
        return []
    said = (
        f"most of the turning asks for more than {LAYOUT.unlikely_bank_deg:.0f}° of bank: if a simulator's time ran "
        "faster than its recorder's clock all along, every speed, bank and time here is wrong"
    )
    return [Notice("time-doubtful", said)]


def _seams_in(track: Track, motion: Motion) -> list[Seam]:
    return [seam for seam in track.seams if motion.time_s[0] <= seam.time_s <= motion.time_s[-1]]


def _seam_notices(track: Track, motion: Motion) -> list[Notice]:
    """Say where time was taken out of the stretch or put in."""
    return [
        Notice(
            "time-seam",
            f"{int(seam.time_s) // 60} min {int(seam.time_s) % 60} s into the flight "
            + (
                f"the recording stood still for {seam.removed_s:.0f} s"
                if seam.removed_s > 0.0
                else "time went uncounted or changed its rate"
            )
            + ": what lies across that is not timed",
        )
        for seam in _seams_in(track, motion)
    ]
