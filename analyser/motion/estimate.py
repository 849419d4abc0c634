"""From a stretch of a log to :class:`~analyser.motion.motion.Motion`: the measuring instrument itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.atmosphere import cas_to_tas, isa_temperature_c, tas_to_cas
from analyser.earth.constants import GRAVITY, KT_PER_MPS, METRES_PER_NM
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.logs.track import FloatArray, Notice, Track
from analyser.logs.track_errors import true_samples
from analyser.motion.airdata import logged
from analyser.motion.circle import wild_speeds
from analyser.motion.layout import has_impossible_corners, lay_out, with_logged
from analyser.motion.motion import Motion
from analyser.motion.motion_thresholds import ESTIMATE, REPORTED
from analyser.motion.path import (
    Path,
    Velocities,
    VelocityErrors,
    tidy_path,
    untidy_path,
    untidy_spline,
)
from analyser.motion.roll_response import RollResponse, roll_response
from analyser.motion.speeds import both, held_airspeed, reported_velocities, smoother_velocity
from analyser.motion.survey import on_grid, thin
from analyser.motion.windfit import WindFit, fit_wind, with_heading


@dataclass(frozen=True)
class Measured:
    """A stretch measured: its motion, and the wind fit behind it for means over any span."""

    motion: Motion
    wind: WindFit
    #: How a roll looks after the path's smoothing.
    rolls: RollResponse
    #: True where the positions are chords between sparse fixes, so that bank cannot be known.
    chorded: bool
    #: How the path's velocities err together, where clock or interpolation make that worth knowing.
    velocity_errors: VelocityErrors | None = None
    #: Sigma of the log's times.
    time_jitter_s: float = 0.0

    def over(self, start_s: float, end_s: float) -> Motion:
        """Return the motion with its means taken over a span: the hold, once it is cut."""
        east, north, sd = self.wind.mean_wind(start_s, end_s)
        tas, tas_sd = self.mean_tas(start_s, end_s)
        return replace(
            self.motion,
            wind_mean_east_kt=east,
            wind_mean_north_kt=north,
            wind_mean_sd_kt=sd,
            tas_mean_kt=tas,
            tas_mean_sd_kt=tas_sd,
        )

    def mean_tas(self, start_s: float, end_s: float) -> tuple[float, float]:
        """Return the mean true airspeed in a span and its sigma, knots."""
        span = self.motion.span(start_s, end_s)
        seen = ~_near_hole(self.motion.in_hole[span])
        if not seen.any():
            seen = np.ones_like(seen)
        tas = self.motion.tas_kt[span][seen]
        if tas.size == 0:
            return float("nan"), float("nan")
        heading = np.radians(self.motion.heading_deg[span][seen])
        _, _, sd = self.wind.mean_wind(start_s, end_s)
        # Over a whole circuit the headings cancel and with them the wind's error; over one leg they do not.
        lean = float(np.hypot(np.sin(heading).mean(), np.cos(heading).mean()))
        parts = [
            lean * sd,
            self.wind.gust_share * self.wind.speed_noise.mean_sd(end_s - start_s),
            ESTIMATE.filtered_kt,
        ]
        # What was flown in a hole is as far off the rest as the airspeed wanders.
        hole_s = float(np.count_nonzero(~seen))
        parts.append((1.0 - seen.mean()) * self.wind.speed_noise.mean_sd(max(hole_s, 1.0)))
        if self.velocity_errors is not None:
            # What the path does not know across itself makes it shorter than the way that was flown: half the square.
            doubt = np.radians(self.motion.heading_sd_deg[span][seen])
            parts += [self._path_sd(span), 0.5 * float(np.mean(tas * doubt**2))]
        return float(tas.mean()), float(np.linalg.norm(parts))

    def clock_sd(self, start_s: float, end_s: float) -> float:
        """Return what a span's length in time is known to, as a share of it: by the samples, and by the speed held."""
        span = self.motion.span(start_s, end_s)
        if self.velocity_errors is None or self.motion.tas_kt[span].size == 0:
            return 0.0
        held_kt = replace(self.wind.speed_noise, sigma=max(self.wind.speed_noise.sigma, REPORTED.held_kt))
        sds = np.array([self._path_sd(span), held_kt.mean_sd(end_s - start_s)])
        return float(1.0 / np.linalg.norm(1.0 / sds) / self.motion.tas_kt[span].mean())

    def _path_sd(self, span: slice) -> float:
        """Return the sigma of the mean speed along the nose that the path alone tells, knots."""
        assert self.velocity_errors is not None
        heading = np.radians(self.motion.heading_deg[span])
        nose = np.column_stack([np.sin(heading), np.cos(heading)])
        covariance = self.velocity_errors.covariance(
            self.motion.time_s[span], nose, np.zeros(1, dtype=np.intp)
        )
        return float(np.sqrt(covariance[0, 0]))


def measure(
    track: Track,
    plane: LocalPlane,
    start_s: float,
    end_s: float,
    turning: tuple[float, float],
    *,
    quick: bool = False,
) -> Measured:
    """Measure a stretch of flight.

    Parameters
    ----------
    plane : LocalPlane
        The map to lay it on.
    start_s, end_s : float
        The stretch.
    turning : (start_s, end_s)
        The part of it that is the hold: wind and airspeed are fitted there.
    quick : bool
        Take the usual noise of the wind fit, which is good enough to infer a hold by.
    """
    errors = track.errors
    near = _near(track, start_s, end_s)
    part = (near.time_s >= start_s) & (near.time_s <= end_s)
    time_s = near.time_s[part]
    _, _, convergence = plane.to_plane(near.lat_deg[part], near.lon_deg[part])
    grid = np.arange(np.ceil(time_s[0]), time_s[-1] + 1e-9)
    hole = _in_hole(grid, time_s)
    altitude = on_grid(time_s, near.channel("altitude_ft")[part], grid)
    use = ~_near_hole(hole) & (grid >= turning[0]) & (grid <= turning[1])
    # The ends of the stretch may lie between two true samples.
    beyond_s = 0.0 if errors.true_sample.all() else 3.0 * errors.effective_s
    samples = _Samples.of(track, plane, time_s[0] - beyond_s, time_s[-1] + beyond_s)
    path = samples.path(track, grid)
    errors_of = path.errors
    flying, wild_s = use, None
    if errors.untidy:
        path, use = _without_wild(path, grid, flying, errors.effective_s)
        wild_s = grid[flying & ~use]
    fit, obtained = _fit(near, grid, path, altitude, use, errors.interpolated or errors.slips, quick)
    turned = np.interp(grid, time_s, convergence)
    fit, obtained = _with_heading(near, grid, path, turned, use, fit, obtained)
    if errors.untidy and not quick:
        path = samples.path(track, grid, held_airspeed(fit, path, grid, use, altitude))
        path, _ = _without_wild(path, grid, flying, errors.effective_s)
    warmer = _isa_deviation_c(near, grid, altitude)
    motion = lay_out(plane, grid, path, altitude, hole, fit, obtained, warmer)
    chorded = path.interval_s > ESTIMATE.chorded_s or has_impossible_corners(motion)
    motion = with_logged(near, motion, chorded)
    if wild_s is not None and wild_s.size:
        motion = replace(motion, notices=(*motion.notices, _wild_notice(wild_s)))
    interval_s = path.interval_s if errors.untidy else float(np.median(np.diff(time_s)))
    rolls = roll_response(interval_s, path.spline.noise)
    return Measured(motion, fit, rolls, chorded, errors_of, errors.time_jitter_s)


@dataclass(frozen=True)
class _Samples:
    """The true samples of a stretch on the map, metres."""

    time_s: FloatArray
    fixes: FloatArray

    @classmethod
    def of(cls, track: Track, plane: LocalPlane, start_s: float, end_s: float) -> _Samples:
        time_s, lat, lon = true_samples(
            track.errors, track.time_s, track.lat_deg, track.lon_deg, start_s, end_s
        )
        east_nm, north_nm, _ = plane.to_plane(lat, lon)
        return cls(time_s, np.stack([east_nm, north_nm], axis=1) * METRES_PER_NM)

    def path(self, track: Track, grid: FloatArray, held: Velocities | None = None) -> Path:
        """Lay the path through them, with the speeds that the log reports and, once known, the airspeed held."""
        errors = track.errors
        if not errors.untidy:
            return tidy_path(*thin(self.time_s, self.fixes), errors.interval_s, grid)
        first = untidy_spline(self.time_s, self.fixes, errors)
        own = reported_velocities(track, first)
        return untidy_path(self.time_s, self.fixes, errors, grid, both(own, held))


def _without_wild(
    path: Path,
    grid: FloatArray,
    use: NDArray[np.bool_],
    reach_s: float,
) -> tuple[Path, NDArray[np.bool_]]:
    """Keep speeds that no aircraft flew out of the wind, and say of the path that it does not know them."""
    inside = np.flatnonzero(use)
    if inside.size < 2:
        return path, use
    velocity = path.spline.at(grid[inside], 1) * KT_PER_MPS
    off_kt = np.zeros(grid.size)
    off_kt[inside] = wild_speeds(
        grid[inside], velocity[:, 0], velocity[:, 1], path.along_sd_kt[inside], reach_s
    )
    return replace(path, along_sd_kt=np.hypot(path.along_sd_kt, off_kt)), use & (off_kt == 0.0)


def _wild_notice(wild_s: FloatArray) -> Notice:
    first, last = (f"{int(s) // 60} min {int(s) % 60} s" for s in (wild_s[0], wild_s[-1]))
    said = (
        f"for {wild_s.size} s between {first} and {last} into the flight the positions ask for airspeeds that the rest "
        "of the hold does not know: their times may be wrong, and wind and airspeed were worked out without them"
    )
    return Notice("speeds-wild", said)


def _near(track: Track, start_s: float, end_s: float) -> Track:
    """Cut out a stretch and a little more on both sides: a long log need not be gone through for each hold."""
    first, last = np.searchsorted(track.time_s, [start_s - ESTIMATE.near_s, end_s + ESTIMATE.near_s])
    return track.take(slice(int(first), int(last)))


def _in_hole(grid_s: FloatArray, time_s: FloatArray) -> NDArray[np.bool_]:
    gaps = np.diff(time_s)
    limit = max(ESTIMATE.hole_s, ESTIMATE.hole_gaps * float(np.median(gaps)))
    cell = np.clip(np.searchsorted(time_s, grid_s, side="right") - 1, 0, gaps.size - 1)
    before, after = grid_s - time_s[cell], time_s[cell + 1] - grid_s
    # A sample between two holes tells a place, and hardly a speed.
    long = np.pad(gaps > limit, 1)
    lost = (before > 1.0) | long[cell], (after > 1.0) | long[cell + 2]
    return np.asarray(long[cell + 1] & lost[0] & lost[1])


def _near_hole(hole: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Add to what lies in holes what lies so near that the smoother leans into one."""
    reach = 2 * round(ESTIMATE.hole_edge_s) + 1
    if hole.size < reach:
        return hole
    return np.asarray(np.convolve(hole, np.ones(reach), "same") > 0.5)


def _fit(
    track: Track,
    grid: FloatArray,
    path: Path,
    altitude: FloatArray,
    use: NDArray[np.bool_],
    fed: bool,
    quick: bool,
) -> tuple[WindFit, dict[str, str]]:
    """Fit the wind, with the airspeed's reference that leaves the quieter remainder."""
    pick = np.flatnonzero(use)[:: ESTIMATE.wind_every_s]
    velocity = path.spline.at(grid, 1) * KT_PER_MPS
    if path.errors is None:
        velocity = smoother_velocity(track, grid, velocity)
    east, north = velocity[pick, 0], velocity[pick, 1]
    factor, height = None, None
    if np.isfinite(altitude).all():
        speed = float(np.median(np.hypot(east, north)))
        through_air = cas_to_tas(
            np.full(pick.size, tas_to_cas(speed, float(np.median(altitude[pick])))), altitude[pick]
        )
        factor = through_air / through_air.mean()
        if np.ptp(altitude[pick]) > ESTIMATE.shear_from_ft:
            height = (altitude[pick] - altitude[pick].mean()) / 1000.0
    constant = fit_wind(
        grid[pick],
        east,
        north,
        factor=factor,
        height_kft=height,
        errors=path.errors,
        fed=fed,
        quick=quick,
    )
    reference = _logged_tas(track, grid, altitude)
    if reference is None or quick:
        return constant, {"wind": "derived", "tas": "derived"}
    by_log = fit_wind(
        grid[pick], east, north, reference_kt=reference[pick], height_kft=height, errors=path.errors
    )
    known, held = (fit.speed_noise.mean_sd(ESTIMATE.compared_over_s) for fit in (by_log, constant))
    if known < held:
        return by_log, {"wind": "logged", "tas": "logged"}
    return constant, {"wind": "derived", "tas": "derived"}


def _with_heading(
    track: Track,
    grid: FloatArray,
    path: Path,
    convergence: FloatArray,
    use: NDArray[np.bool_],
    fit: WindFit,
    obtained: dict[str, str],
) -> tuple[WindFit, dict[str, str]]:
    """Let a logged heading speak on the wind, if there is one."""
    heading = logged(track, "heading_true_deg", grid)
    if heading is None:
        heading = logged(track, "heading_magnetic_deg", grid)
    if heading is None:
        return fit, obtained
    pick = np.flatnonzero(use)[:: ESTIMATE.wind_every_s]
    velocity, acceleration = path.spline.at(grid, 1) * KT_PER_MPS, path.spline.at(grid, 2)
    across = velocity[:, 1] * acceleration[:, 0] - velocity[:, 0] * acceleration[:, 1]
    bank = np.degrees(np.arctan(across / np.maximum(np.hypot(velocity[:, 0], velocity[:, 1]), 1.0) / GRAVITY))
    sharper = with_heading(fit, grid[pick], velocity[pick], (heading - convergence)[pick], bank[pick])
    if sharper is None:
        return fit, obtained
    return sharper, {**obtained, "wind": "logged", "heading": "logged"}


def _isa_deviation_c(track: Track, grid: FloatArray, altitude: FloatArray) -> float:
    """Return how much warmer than standard the air was, by the log's thermometer; 0 where it has none."""
    outside = logged(track, "outside_air_temperature_c", grid)
    if outside is None or not np.isfinite(altitude).all():
        return 0.0
    deviation = float(np.median(outside - isa_temperature_c(altitude)))
    return deviation if abs(deviation) < ESTIMATE.weather_c else 0.0


def _logged_tas(track: Track, grid: FloatArray, altitude: FloatArray) -> FloatArray | None:
    tas = logged(track, "tas_kt", grid)
    if tas is not None:
        return tas
    ias = logged(track, "ias_kt", grid)
    if ias is None or not np.isfinite(altitude).all():
        return None
    return np.asarray(cas_to_tas(ias, altitude, _isa_deviation_c(track, grid, altitude)))
