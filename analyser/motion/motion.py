"""What the aircraft did in a stretch of flight, as time series with their uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.earth.plane import LocalPlane
from analyser.frozen import dataclass
from analyser.logs.track import Notice
from analyser.motion.motion_thresholds import SPEED

FloatArray = NDArray[np.float64]


def running_mean(series: FloatArray, points: int) -> FloatArray:
    """Average over some points about each one; NaN is left out and stays NaN."""
    known = np.isfinite(series)
    window = np.ones(min(points, max(series.size, 1)))
    total = np.convolve(np.where(known, series, 0.0), window, mode="same")
    count = np.convolve(known.astype(float), window, mode="same")
    return np.where(known, total / np.maximum(count, 1.0), np.nan)


@dataclass(frozen=True)
class Overspeed:
    """Indicated airspeed against a limit."""

    #: The highest that was sustained, and its sigma; None where no airspeed is known for long enough.
    most_kt: float | None
    most_sd_kt: float | None
    #: For how long it was sustained beyond the limit by more than two sigma.
    over_s: float


@dataclass(frozen=True)
class Motion:
    """Estimated motion on an even time grid of its own, one second apart, whatever the log's sampling.

    All directions are degrees clockwise from the map's north, which at the origin (the fix) is true north.
    Velocities are components towards east and north of the map. ``*_sd_*`` are one sigma.
    """

    #: The map; its origin is the hold's fix once the fix is known.
    plane: LocalPlane
    #: (n,) Seconds from the log's first sample, increasing.
    time_s: FloatArray
    #: (n,) Smoothed position on the map.
    east_nm: FloatArray
    north_nm: FloatArray
    #: (n,) NaN where unknown.
    altitude_ft: FloatArray
    #: (n,) Velocity over the ground.
    ground_east_kt: FloatArray
    ground_north_kt: FloatArray
    #: (n,) The air's velocity TOWARDS, and its sigma per axis.
    wind_east_kt: FloatArray
    wind_north_kt: FloatArray
    wind_sd_kt: FloatArray
    #: (n,) True airspeed, and its sigma.
    tas_kt: FloatArray
    tas_sd_kt: FloatArray
    #: (n,) Direction of movement through the air, [0, 360).
    heading_deg: FloatArray
    heading_sd_deg: FloatArray
    #: (n,) Rate of change of the air heading, degrees per second, positive right.
    turn_rate_dps: FloatArray
    #: (n,) Positive right wing down.
    bank_deg: FloatArray
    bank_sd_deg: FloatArray
    #: (n,) NaN where neither logged nor derivable (no altitude).
    ias_kt: FloatArray
    ias_sd_kt: FloatArray
    #: (n,) True where the log has no samples near enough: interpolated, not measured.
    in_hole: NDArray[np.bool_]
    #: Mean wind met over the stretch, and its sigma per axis.
    wind_mean_east_kt: float
    wind_mean_north_kt: float
    wind_mean_sd_kt: float
    #: Mean true airspeed, and the sigma of that mean.
    tas_mean_kt: float
    tas_mean_sd_kt: float
    #: The pilot's own wandering of airspeed, rms about the mean.
    tas_wander_kt: float
    #: For "bank", "heading", "tas", "ias", "wind": ``"logged"`` or ``"derived"``.
    obtained: Mapping[str, str] = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()
    #: Seconds between the log's true samples.
    sample_s: float = 1.0
    #: Instants at which time was taken out of the log, or put in: what lies across one cannot be timed.
    seams_s: tuple[float, ...] = ()

    # Kept once worked out: they are asked for at hundreds of instants.
    @cached_property
    def ground_speed_kt(self) -> FloatArray:
        """Speed over the ground, knots."""
        speed: FloatArray = np.hypot(self.ground_east_kt, self.ground_north_kt)
        return speed

    @cached_property
    def track_deg(self) -> FloatArray:
        """Direction of movement over the ground, degrees [0, 360)."""
        track: FloatArray = np.degrees(np.arctan2(self.ground_east_kt, self.ground_north_kt)) % 360.0
        return track

    @cached_property
    def heading_unwound_deg(self) -> FloatArray:
        """Air heading counted on through north, degrees: no jump from 360 to 0."""
        return np.asarray(np.unwrap(self.heading_deg, period=360.0))

    def at(self, name: str, time_s: float) -> float:
        """Read one series between its grid points.

        Parameters
        ----------
        name : str
            A series of this class, such as ``"east_nm"``; directions are read the short way round.
        time_s : float
            Seconds; clamped to the stretch.
        """
        series: FloatArray = getattr(self, name)
        if name not in ("heading_deg", "track_deg"):
            return float(np.interp(time_s, self.time_s, series))
        after = min(max(int(np.searchsorted(self.time_s, time_s, side="right")), 1), self.time_s.size - 1)
        around = slice(after - 1, after + 1)
        unwound = np.unwrap(series[around], period=360.0)
        return float(np.interp(time_s, self.time_s[around], unwound) % 360.0)

    def sustained_ias(self, here: slice) -> tuple[FloatArray, FloatArray]:
        """Return the median indicated airspeed over every window of a span that makes a speed one that was held.

        Parameters
        ----------
        here : slice
            Of the grid.

        Returns
        -------
        speed_kt, sd_kt : (m,) float array
            One value for every window in the span, by its first point; empty where the span is shorter, NaN where a
            window was not recorded throughout. The sigma is the largest in the window: errors of neighbouring seconds
            hang together, so many are not trusted to know more than one.
        """
        width = self._sustained_points()
        ias = np.where(self.in_hole[here], np.nan, self.ias_kt[here])
        if ias.size < width:
            return np.empty(0), np.empty(0)
        windows = np.lib.stride_tricks.sliding_window_view(ias, width)
        sd = np.lib.stride_tricks.sliding_window_view(np.nan_to_num(self.ias_sd_kt[here]), width)
        return np.median(windows, axis=1), sd.max(axis=1)

    def _sustained_points(self) -> int:
        step_s = float(np.median(np.diff(self.time_s))) if self.time_s.size > 1 else 1.0
        return max(1, round(max(SPEED.sustained_s, SPEED.sustained_samples * self.sample_s) / step_s))

    def over_ias(self, here: slice, limit_kt: float) -> Overspeed:
        """Hold the indicated airspeed of a span against a limit.

        Parameters
        ----------
        here : slice
            Of the grid.
        """
        ias, sd = self._sustained_with_air(here)
        if not np.isfinite(ias).any():
            return Overspeed(None, None, 0.0)
        step_s = float(np.median(np.diff(self.time_s)))
        highest = int(np.nanargmax(ias))
        over = np.count_nonzero(self.surely_over_ias(here, limit_kt))
        return Overspeed(float(ias[highest]), float(sd[highest]), float(over) * step_s)

    def surely_over_ias(self, here: slice, limit_kt: float) -> NDArray[np.bool_]:
        """Return at which points of a span the indicated airspeed was surely beyond a limit, and not for a gust."""
        ias, sd = self._sustained_with_air(here)
        if ias.size == 0:
            return np.zeros(self.ias_kt[here].size, dtype=bool)
        # Every point of a window that is surely too fast counts, and once.
        sure = np.nan_to_num(ias - 2.0 * sd) > limit_kt
        return np.convolve(sure, np.ones(self._sustained_points())) > 0.5

    def _sustained_with_air(self, here: slice) -> tuple[FloatArray, FloatArray]:
        ias, sd = self.sustained_ias(here)
        if self.obtained.get("ias") == "logged" or ias.size == 0:
            return ias, sd
        return ias, np.sqrt(sd**2 + (SPEED.standard_air_sd * ias) ** 2 + self.gust_sd_kt("ias_kt", here) ** 2)

    def gust_sd_kt(self, name: str, here: slice) -> float:
        """Return how far gusts throw single readings of an airspeed off: how they scatter about a minute's mean.

        An airspeed that was derived from the way over the ground takes a gust for the pilot's doing.

        Parameters
        ----------
        name : str
            Of the airspeed's series.
        here : slice
            Of the grid.

        Returns
        -------
        float
            One sigma, knots; 0 for an airspeed that was logged.
        """
        if self.obtained.get(name.removesuffix("_kt"), "derived") == "logged":
            return 0.0
        speed = np.where(self.in_hole[here], np.nan, getattr(self, name)[here])
        off = speed - running_mean(speed, self.points_in(SPEED.gusts_mean_out_s))
        off = off[np.isfinite(off)]
        # The median stands against a slowing down within the span.
        return float(SIGMA_PER_MEDIAN * np.median(np.abs(off))) if off.size else 0.0

    def points_in(self, seconds: float) -> int:
        """Return how many points of the grid a time takes, at least one."""
        step_s = float(np.median(np.diff(self.time_s))) if self.time_s.size > 1 else 1.0
        return max(1, round(seconds / step_s))

    def has_seam(self, start_s: float, end_s: float) -> bool:
        """Return whether time was taken out, or put in, within [start_s, end_s]."""
        return any(start_s <= seam <= end_s for seam in self.seams_s)

    def span(self, start_s: float, end_s: float) -> slice:
        """Return the slice of grid points within [start_s, end_s]."""
        first, last = np.searchsorted(self.time_s, [start_s - 1e-9, end_s + 1e-9])
        return slice(int(first), int(last))
