"""What each channel must agree with, and what is done where it does not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.logs.agreement import (
    LAG_MARGIN,
    climb_ratio,
    drift_by_speed,
    fit_bank,
    fit_heading,
    speed_ratio,
)
from analyser.logs.movement import Movement
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import left_out
from analyser.logs.track import WORDS, Notice
from analyser.logs.units import FEET_PER_METRE

#: Airspeed over ground speed, median over a flight: height makes indicated less than true, wind does the rest.
_AIRSPEED_RATIOS = {"ias_kt": (0.45, 1.6), "tas_kt": (0.65, 1.6)}
#: An altitude that steps by more than this and faster than any aircraft climbs jumps.
_JUMP_FT, _FASTEST_CLIMB_FT_PER_S = 400.0, 300.0
#: Drift large enough to tell a heading from a track that is called heading, degrees.
_DRIFT_DEG = 4.0
#: A channel that runs behind the track by more than this is not used, seconds.
LAG_S = 2.5

#: A channel as it is to be used, None where it is not, and what is said about it.
Verdict = tuple[FloatArray | None, list[Notice]]


def _lagging(word: str, lag_s: float) -> Notice:
    return Notice(
        "channel-lagging", f"The logged {word} runs {lag_s:.0f} s behind the track; it was not used."
    )


def _disagrees(word: str, why: str) -> Notice:
    return Notice("channel-disagrees", f"The logged {word} was not used: {why}.")


def _ground_speed(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    found = speed_ratio(values, moved)
    if found is not None and not 0.92 < found[0] < 1.08:
        why = f"it is {found[0]:.2f} times the speed over the ground by positions, as with a wrong unit"
        return None, [_disagrees("ground speed", why)]
    return values, []


def _track(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    here = values[moved.index]
    use = moved.flying & np.isfinite(here) & (np.abs(moved.turn_dps) < 1.0)
    if int(use.sum()) < 25:
        return values, []
    gap = wrap180(here[use] - moved.track_deg[use])
    off = float(np.median(np.abs(gap)))
    if off > 6.0:
        return None, [_disagrees("track", f"it differs from the track by positions by {off:.0f}°")]
    return values, []


def _airspeed(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    found = speed_ratio(values, moved)
    low, high = _AIRSPEED_RATIOS[name]
    if found is not None and not low < found[0] < high:
        why = f"it is {found[0]:.2f} times the speed over the ground, as with a wrong unit"
        return None, [_disagrees(WORDS[name], why)]
    return values, []


def _altitude(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    if np.all(values[np.isfinite(values)] == 0.0) and moved.flying.any():
        return None, [_disagrees("altitude", "it is zero throughout")]
    climb = flight.channels.get("vertical_speed_fpm")
    ratio = None if climb is None else climb_ratio(climb, values * 60.0, flight.time_s)
    if ratio is not None and min(abs(ratio * FEET_PER_METRE - 1.0), abs(ratio / FEET_PER_METRE - 1.0)) < 0.12:
        why = f"the vertical speed is {ratio:.2f} times its change, so one of them has the wrong unit"
        return None, [_disagrees("altitude", why)]
    return _without_jumps(values, flight)


def _without_jumps(values: FloatArray, flight: RawFlight) -> Verdict:
    """Leave out altitudes that jump away and back."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 11:
        return values, []
    series = values[known]
    steps = np.abs(np.diff(series)) > _JUMP_FT + _FASTEST_CLIMB_FT_PER_S * np.diff(flight.time_s[known])
    if not steps.any():
        return values, []
    padded = np.pad(series, 5, mode="reflect")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 11), axis=1)
    beside = np.concatenate([[False], steps]) | np.concatenate([steps, [False]])
    jump = (np.abs(series - middle) > _JUMP_FT) & np.isin(np.arange(series.size), _runs_from(beside))
    if not jump.any():
        return values, []
    clean = values.copy()
    clean[known[jump]] = np.nan
    message = left_out(int(jump.sum()), "altitude jumps away and back", "altitudes jump away and back")
    return clean, [Notice("altitude-spike", message)]


def _runs_from(beside: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return the samples at jumps and up to five after: an excursion lasts as long as the median can see."""
    places = np.flatnonzero(beside)
    return np.unique(np.add.outer(places, np.arange(6)).ravel())


def _heading(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    fit = fit_heading(values, moved)
    if fit is not None and fit.lag_s > max(LAG_S, 3.0 * fit.lag_sd_s):
        return None, [_lagging(WORDS[name], fit.lag_s)]
    if fit is not None and fit.all_round:
        drift = drift_by_speed(moved)
        if drift is not None and drift > _DRIFT_DEG and fit.drift_deg < 0.35 * drift:
            why = f"it follows the track with no drift, where the ground speeds ask for {drift:.0f}°: it is the track"
            return None, [_disagrees(WORDS[name], why)]
    if fit is not None and fit.all_round and fit.scatter_deg > 25.0:
        return None, [_disagrees(WORDS[name], "it does not follow the track")]
    return values, []


def _bank(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    fit = fit_bank(values, flight.time_s, moved)
    if fit is None or not fit.turns:
        return values, []
    if abs(fit.lag_s) > LAG_S + 0.5 and abs(fit.best_correlation) > abs(fit.correlation) + LAG_MARGIN > 0.3:
        return None, [_lagging("bank", fit.lag_s)]
    if fit.correlation < -0.5:
        notice = Notice(
            "bank-sign", "The logged bank is positive to the left, by the turns flown; its sign was changed."
        )
        return -values, [notice]
    if fit.correlation < 0.35:
        return None, [_disagrees("bank", "it does not go with the turns flown")]
    if not 0.4 < fit.slope < 2.2:
        return None, [_disagrees("bank", f"it is {fit.slope:.2g} times what the turns took")]
    return values, []


#: The rule of each channel that has one.
RULES: dict[str, Callable[[str, FloatArray, RawFlight, Movement], Verdict]] = {
    "altitude_ft": _altitude,
    "ground_speed_kt": _ground_speed,
    "track_true_deg": _track,
    "heading_true_deg": _heading,
    "heading_magnetic_deg": _heading,
    "bank_deg": _bank,
    "ias_kt": _airspeed,
    "tas_kt": _airspeed,
}
