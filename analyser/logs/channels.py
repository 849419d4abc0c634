"""Channels that cannot be true: out of range, frozen, lagging, of the wrong sign, at odds with the track.

Positions come first: a channel that disagrees with them is not used, and a notice says so. Recorders that write each
sensor as it speaks have rows with values and no position: those are brought to the positions beside them in time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180, wrap360
from analyser.errors import LogError
from analyser.logs.agreement import (
    climb_ratio,
    drift_by_speed,
    fit_bank,
    fit_heading,
    off_track_deg,
    speed_ratio,
    unevenness,
)
from analyser.logs.log_thresholds import CHANNEL, MATCH, PLACES
from analyser.logs.movement import Movement, movement
from analyser.logs.positions import median_around
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import counted, left_out
from analyser.logs.track import CHANNELS, DIRECTIONS, Notice
from analyser.logs.units import FEET_PER_METRE

#: What may not stand still in truth, as an altitude or a temperature may.
_FREEZE = (*DIRECTIONS[:3], "bank_deg", "ground_speed_kt", "ias_kt", "tas_kt")


def _without_frozen(
    name: str, values: FloatArray, flight: RawFlight, moved: Movement
) -> tuple[FloatArray | None, list[Notice]]:
    """Blank out stretches where the value stood still and the track shows that it cannot have.

    Gives the channel's values, NaN where frozen, or None where too little is left to use.
    """
    known = np.flatnonzero(np.isfinite(values))
    if name not in _FREEZE:
        return values, []
    told = values if known.size == values.size else values[known]
    # A stretch of equal values begins where one is first repeated and ends where one is not.
    same = np.concatenate([[False], told[1:] == told[:-1], [False]])
    edges = np.flatnonzero(same[1:] != same[:-1])
    starts, ends = edges[::2], edges[1::2]
    start_s, end_s = flight.time_s[known[starts]], flight.time_s[known[ends]]
    long = np.flatnonzero(
        end_s - start_s >= (CHANNEL.speed_frozen_s if name.endswith("_kt") else CHANNEL.frozen_s)
    )
    if long.size == 0:
        return values, []
    blank = np.zeros(values.size, dtype=bool)
    total = 0.0
    firsts = np.searchsorted(moved.time_s, start_s[long])
    lasts = np.searchsorted(moved.time_s, end_s[long] + 1e-9)
    seen = lasts - firsts >= CHANNEL.least_samples
    for run, first, last in zip(long[seen], firsts[seen], lasts[seen], strict=True):
        span = np.arange(first, last)[moved.flying[first:last]]
        since = _departs(name, moved, span) if span.size >= CHANNEL.least_samples else None
        if since is not None:
            since_s = float(moved.time_s[since])
            blank[int(np.searchsorted(flight.time_s, since_s)) : known[ends[run]] + 1] = True
            total += float(end_s[run]) - since_s
    if not blank.any():
        return values, []
    said = f"The logged {CHANNELS[name].word} stands still"
    aloft = float(moved.flying.mean()) * float(flight.time_s[-1] - flight.time_s[0])
    if total > CHANNEL.frozen_most_share * aloft:
        return None, [Notice("channel-frozen", f"{said} while the aircraft turns; it was not used.")]
    message = f"{said} for {total:.0f} s while the aircraft moves on; not used there."
    return np.where(blank, np.nan, values), [Notice("channel-frozen", message)]


def _departs(name: str, moved: Movement, span: NDArray[np.intp]) -> int | None:
    """Find from which sample on the channel must have left a value that stands still; None where it need not have.

    Until the track leaves what the channel shows the value may well be true.
    """
    if name in DIRECTIONS:
        expected = np.unwrap(moved.track_deg[span], period=360.0)
        changed, away = float(np.ptp(expected)) > CHANNEL.track_change_deg, CHANNEL.track_away_deg
    elif name == "bank_deg":
        expected = moved.expected_bank_deg[span]
        low, high = np.percentile(expected, CHANNEL.bank_percents)
        changed, away = float(high - low) > CHANNEL.bank_change_deg, CHANNEL.bank_away_deg
    else:
        return int(span[0]) if _speed_changed(name, moved, span) else None
    # The first of all where none is away.
    return int(span[np.argmax(np.abs(expected - expected[0]) > away)]) if changed else None


def _speed_changed(name: str, moved: Movement, span: NDArray[np.intp]) -> bool:
    interval_s = float(np.median(np.diff(moved.time_s)))
    width = max(1, min(span.size // 3, int(CHANNEL.speed_averaged_s / interval_s)))
    speed = np.convolve(moved.speed_kt[span], np.full(width, 1.0 / width), mode="valid")
    if name == "ground_speed_kt":
        return float(np.ptp(speed)) > CHANNEL.speed_change_kt
    # Wind changes the ground speed with direction: an airspeed is frozen only where the ground speed
    # changes on one and the same track.
    sector = (moved.track_deg[span][(width - 1) // 2 :][: speed.size] // CHANNEL.one_track_deg).astype(int)
    return any(float(np.ptp(speed[sector == s])) > CHANNEL.speed_change_kt for s in np.unique(sector))


#: A channel as it is to be used, None where it is not, and what is said about it.
Verdict = tuple[FloatArray | None, list[Notice]]


def _unused(word: str, why: str) -> Verdict:
    return None, [Notice("channel-disagrees", f"The logged {word} was not used: {why}.")]


def _lagging(word: str, lag_s: float) -> Verdict:
    message = f"The logged {word} runs {lag_s:.0f} s behind the track; it was not used."
    return None, [Notice("channel-lagging", message)]


def _speed(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    found = speed_ratio(values, moved)
    low, high = CHANNEL.speed_ratios[name]
    if found is not None and not low < found[0] < high:
        why = f"it is {found[0]:.2f} times the speed over the ground by positions, as with a wrong unit"
        return _unused(CHANNELS[name].word, why)
    return values, []


def _track(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    off = off_track_deg(values, moved.take(np.abs(moved.turn_dps) < MATCH.straight_dps))
    if off > CHANNEL.track_off_deg:
        return _unused("track", f"it differs from the track by positions by {off:.0f}°")
    return values, []


def _altitude(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    if not (np.isfinite(values) & (values != 0.0)).any() and moved.flying.any():
        return _unused("altitude", "it is zero throughout")
    climb = flight.channels.get("vertical_speed_fpm")
    ratio = None if climb is None else climb_ratio(climb, values * 60.0, flight.time_s)
    if (
        ratio is not None
        and min(abs(ratio * FEET_PER_METRE - 1.0), abs(ratio / FEET_PER_METRE - 1.0))
        < CHANNEL.unit_near_share
    ):
        why = f"the vertical speed is {ratio:.2f} times its change, so one of them has the wrong unit"
        return _unused("altitude", why)
    return _without_jumps(values, flight)


def _without_jumps(values: FloatArray, flight: RawFlight) -> Verdict:
    """Leave out altitudes that jump away and back."""
    known = np.flatnonzero(np.isfinite(values))
    series = values[known]
    rises = np.abs(np.diff(series))
    steps = rises > CHANNEL.jump_ft + CHANNEL.fastest_climb_ft_per_s * np.diff(flight.time_s[known])
    if not steps.any():
        return values, []
    # An excursion lasts as long as the median can see: as many samples after a jump as it reaches to either side.
    reach = PLACES.around_steps
    middle = median_around(series, reach)
    beside = np.flatnonzero(np.concatenate([[False], steps]) | np.concatenate([steps, [False]]))
    near = np.isin(np.arange(series.size), np.add.outer(beside, np.arange(reach + 1)))
    jump = (np.abs(series - middle) > CHANNEL.jump_ft) & near
    if not jump.any():
        return values, []
    clean = values.copy()
    clean[known[jump]] = np.nan
    message = left_out(int(jump.sum()), "altitude jumps away and back", "altitudes jump away and back")
    return clean, [Notice("altitude-spike", message)]


def _heading(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    fit = fit_heading(values, moved)
    if fit is not None and fit.lag_s > max(CHANNEL.lag_s, CHANNEL.lag_sigmas * fit.lag_sd_s):
        return _lagging(CHANNELS[name].word, fit.lag_s)
    if fit is not None and fit.all_round:
        drift = drift_by_speed(moved)
        if drift is not None and drift > CHANNEL.drift_deg and fit.drift_deg < CHANNEL.drift_share * drift:
            why = f"it follows the track with no drift, where the ground speeds ask for {drift:.0f}°: it is the track"
            return _unused(CHANNELS[name].word, why)
    if fit is not None and fit.all_round and fit.scatter_deg > CHANNEL.scatter_deg:
        return _unused(CHANNELS[name].word, "it does not follow the track")
    return values, []


def _bank(name: str, values: FloatArray, flight: RawFlight, moved: Movement) -> Verdict:
    fit = fit_bank(values, flight.time_s, moved)
    if fit is None or not fit.turns:
        return values, []
    if abs(fit.lag_s) > CHANNEL.bank_lag_s and (
        abs(fit.best_correlation) - MATCH.lag_margin > abs(fit.correlation) > CHANNEL.lagging_correlation
    ):
        return _lagging("bank", fit.lag_s)
    if fit.correlation < -CHANNEL.mirrored_correlation:
        message = "The logged bank is positive to the left, by the turns flown; its sign was changed."
        return -values, [Notice("bank-sign", message)]
    if fit.correlation < CHANNEL.bank_correlation:
        return _unused("bank", "it does not go with the turns flown")
    if not CHANNEL.bank_slope[0] < fit.slope < CHANNEL.bank_slope[1]:
        return _unused("bank", f"it is {fit.slope:.2g} times what the turns took")
    return values, []


#: The rule of each channel that has one.
_RULES: dict[str, Callable[[str, FloatArray, RawFlight, Movement], Verdict]] = {
    "altitude_ft": _altitude,
    "ground_speed_kt": _speed,
    "track_true_deg": _track,
    "heading_true_deg": _heading,
    "heading_magnetic_deg": _heading,
    "bank_deg": _bank,
    "ias_kt": _speed,
    "tas_kt": _speed,
}


def within_range(flight: RawFlight) -> RawFlight:
    """Replace impossible values by NaN, fold directions, and drop channels without a value."""
    channels: dict[str, FloatArray] = {}
    notices = list(flight.notices)
    for name, values in flight.channels.items():
        known = CHANNELS[name]
        outside = (values < known.least) | (values > known.most)
        wrong = int(np.count_nonzero(outside))
        if (
            wrong > CHANNEL.impossible_share * np.isfinite(values).sum()
            and np.unique(values[outside]).size > CHANNEL.most_fills
        ):
            message = f"Most values of {known.word} are impossible, as with a wrong unit; it was not used."
            notices.append(Notice("value-impossible", message))
            continue
        clean = np.where(outside, np.nan, values) if wrong else values
        if wrong:
            of = f"of {known.word}"
            message = left_out(wrong, f"value {of} is impossible", f"values {of} are impossible")
            notices.append(Notice("value-impossible", message))
        fold, least = (wrap360, 0.0) if name in DIRECTIONS else (wrap180, -180.0)
        if name in (*DIRECTIONS, "bank_deg") and ((clean < least) | (clean >= least + 360.0)).any():
            clean = fold(clean)
        if np.isfinite(clean).any():
            channels[name] = clean
    return replace(flight, channels=channels, notices=tuple(notices))


def hold_against_track(flight: RawFlight, moved: Movement) -> RawFlight:
    """Compare each channel with the track; drop, mend or keep it, and say so.

    Units and references are settled and values in range before.
    """
    _refuse_swapped(flight, moved)
    channels, notices = dict(flight.channels), list(flight.notices)
    for name in list(channels):
        values, said = _without_frozen(name, channels[name], flight, moved)
        if values is not None and name in _RULES:
            values, more = _RULES[name](name, values, flight, moved)
            said += more
        notices += said
        if values is None:
            del channels[name]
        else:
            channels[name] = values
    return replace(flight, channels=channels, notices=tuple(notices))


def _refuse_swapped(flight: RawFlight, moved: Movement) -> None:
    """Refuse positions with latitude and longitude swapped: every right turn would be a left one.

    Away from the equator their degrees differ in length: taken for one another they draw the flight out along one axis.
    And a logged direction is the mirror image, at the diagonal, of the track by positions.
    """
    why = ""
    told = any(source.channel == "position" and source.standing == "told" for source in flight.sources)
    speed_kt = flight.channels.get("ground_speed_kt")
    may_be = not told and np.abs(flight.lon_deg).max() <= 90.0
    if may_be and (off := unevenness(speed_kt, moved)) > CHANNEL.uneven_share:
        swapped = movement(flight.time_s, flight.lon_deg, flight.lat_deg)
        if unevenness(speed_kt, swapped) < CHANNEL.swapped_uneven_ratio * off:
            why = (
                "as they stand the speed over the ground rises and falls with the direction of flight, and the other "
                "way round it does not"
            )
    for name in (one for one in DIRECTIONS[:3] if one in flight.channels):
        logged, beside = moved.beside(flight.channels[name])
        if (np.bincount(beside.eighth, minlength=8) >= MATCH.eighth_samples).sum() < CHANNEL.mirror_eighths:
            continue
        mirrored, plain = (
            float(np.median(np.abs(wrap180(one - beside.track_deg)))) for one in (90.0 - logged, logged)
        )
        if (
            not why
            and mirrored < CHANNEL.mirror_deg
            and plain > CHANNEL.mirror_ratio * mirrored + CHANNEL.mirror_deg
        ):
            why = f"the logged {CHANNELS[name].word} is the mirror image of the movement"
    if why:
        raise LogError(
            f"latitude and longitude are swapped: {why}",
            place=f"all {flight.samples:,} samples",
            mend="write each in its own place; for a table --columns lat=…,lon=… says which is which",
        )


_CIRCULAR = (*DIRECTIONS, "heading_unmarked_deg", "track_magnetic_deg")


def carry_values(flight: RawFlight) -> RawFlight:
    """Bring values from rows without a position to the rows that have one.

    The rows, in any order, stay; those without a position are dropped later.
    """
    timed = np.isfinite(flight.time_s)
    placed = timed & np.isfinite(flight.lat_deg) & np.isfinite(flight.lon_deg)
    rest = timed & ~placed
    if not rest.any() or placed.sum() < 2:
        return flight
    # Where each third row is another sensor's, positions are one and two rows apart.
    step_s = float(np.percentile(np.diff(np.sort(flight.time_s[placed])), CHANNEL.usual_interval_percent))
    reach = min(CHANNEL.filled_intervals * step_s, CHANNEL.longest_filled_s)
    channels, undecided = dict(flight.channels), dict(flight.undecided)
    both: list[tuple[dict[Any, FloatArray], Any, str]] = [
        *((channels, name, CHANNELS[name].word if name in CHANNELS else name) for name in channels),
        *((undecided, column, f"'{column.name}'") for column in undecided),
    ]
    carried: list[str] = []
    lost: list[str] = []
    carry = np.zeros(flight.samples, dtype=bool)
    for among, key, called in both:
        if np.isfinite((values := among[key])[rest]).any():
            how = {"circular": key in _CIRCULAR, "nearest": among is undecided}
            among[key] = _carried(values, flight.time_s, placed, reach, **how)
            before, after = (int(np.isfinite(one[placed]).sum()) for one in (values, among[key]))
            # Where each position has its own value nothing was brought to it.
            if after > before or not after:
                (carried if after else lost).append(called)
                carry |= rest & np.isfinite(values)
    if not carry.any():
        return flight
    message = f"{counted(int(carry.sum()), 'row carries', 'rows carry')} values and no position"
    for names, became in (
        (carried, "brought to the positions beside them in time"),
        (lost, "not used, too far in time from any position"),
    ):
        message += f"; {', '.join(names)} {'was' if len(names) == 1 else 'were'} {became}" if names else ""
    return flight.saying("values-carried", f"{message}.", channels=channels, undecided=undecided)


def _carried(
    values: FloatArray,
    time_s: FloatArray,
    placed: NDArray[np.bool_],
    reach: float,
    *,
    circular: bool = False,
    nearest: bool = False,
) -> FloatArray:
    """Fill rows with a position between neighbouring values; of values too far apart the one that is near counts."""
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(time_s))
    known = known[np.argsort(time_s[known], kind="stable")]
    when = time_s[known]
    what = np.unwrap(values[known], period=360.0) if circular else values[known]
    open_ = np.flatnonzero(placed & ~np.isfinite(values))
    at = time_s[open_]
    right = np.clip(np.searchsorted(when, at), 0, known.size - 1)
    left = np.maximum(right - 1, 0)
    closest = np.where(at - when[left] < when[right] - at, left, right)
    between = (when[left] <= at) & (at <= when[right]) & (when[right] - when[left] <= reach)
    near = np.abs(when[closest] - at) <= CHANNEL.near_share * reach
    filled = what[closest] if nearest else np.where(between, np.interp(at, when, what), what[closest])
    result = values.copy()
    result[open_] = np.where(between | near, wrap360(filled) if circular else filled, np.nan)
    return result
