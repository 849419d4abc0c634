"""Channels that cannot be true: out of range, frozen, lagging, of the wrong sign, at odds with the track.

Positions come first: a channel that disagrees with them is not used, and a notice says so.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180, wrap360
from analyser.logs.agreement import expected_bank, fit_bank, fit_heading, speed_ratio
from analyser.logs.movement import Movement
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.track import Notice

#: What a value can be; outside it is a recorder's mark for "none" (−999, 65535 …).
RANGES: dict[str, tuple[float, float]] = {
    "altitude_ft": (-2_000.0, 70_000.0),
    "ground_speed_kt": (0.0, 1_200.0),
    "track_true_deg": (-360.0, 720.0),
    "heading_true_deg": (-360.0, 720.0),
    "heading_magnetic_deg": (-360.0, 720.0),
    "bank_deg": (-180.0, 360.0),
    "pitch_deg": (-90.0, 90.0),
    "ias_kt": (0.0, 700.0),
    "tas_kt": (0.0, 1_000.0),
    "wind_from_true_deg": (-360.0, 720.0),
    "wind_speed_kt": (0.0, 350.0),
    "outside_air_temperature_c": (-110.0, 70.0),
    "vertical_speed_fpm": (-30_000.0, 30_000.0),
}
_DIRECTIONS = ("track_true_deg", "heading_true_deg", "heading_magnetic_deg", "wind_from_true_deg")
_WORDS = {
    "altitude_ft": "altitude",
    "ground_speed_kt": "ground speed",
    "track_true_deg": "track",
    "heading_true_deg": "true heading",
    "heading_magnetic_deg": "magnetic heading",
    "bank_deg": "bank",
    "pitch_deg": "pitch",
    "ias_kt": "indicated airspeed",
    "tas_kt": "true airspeed",
    "wind_from_true_deg": "wind direction",
    "wind_speed_kt": "wind speed",
    "outside_air_temperature_c": "outside air temperature",
    "vertical_speed_fpm": "vertical speed",
}
#: A channel that runs behind the track by more than this is not used, seconds.
LAG_S = 2.5
#: A value unchanged for less than this is no frozen channel, seconds.
_FROZEN_S = 20.0
#: What must have changed meanwhile, by the track, for a constant value to be called frozen.
_TRACK_CHANGE_DEG = 45.0
_BANK_CHANGE_DEG = 14.0
_SPEED_CHANGE_KT = 40.0
#: Speeds are steadier than directions, and jitter of positions in time makes theirs jitter: longer stretches, s.
_SPEED_FROZEN_S = 120.0


def within_range(flight: RawFlight) -> RawFlight:
    """Replace impossible values by NaN, fold directions, and drop channels without a value.

    Parameters
    ----------
    flight : RawFlight

    Returns
    -------
    RawFlight
    """
    channels: dict[str, FloatArray] = {}
    notices = list(flight.notices)
    for name, values in flight.channels.items():
        low, high = RANGES.get(name, (-np.inf, np.inf))
        with np.errstate(invalid="ignore"):
            outside = ~((values >= low) & (values <= high)) & ~np.isnan(values)
        clean = values
        if outside.any():
            clean = np.where(outside, np.nan, values)
            message = (
                f"{int(outside.sum()):,} values of {_WORDS.get(name, name)} are impossible and were left out."
            )
            notices.append(Notice("value-impossible", message))
        if np.isfinite(clean).any():
            channels[name] = _folded(name, clean)
    return replace(flight, channels=channels, notices=tuple(notices))


def _folded(name: str, values: FloatArray) -> FloatArray:
    if name in _DIRECTIONS or name == "heading_unmarked_deg":
        inside = np.nanmin(values) >= 0.0 and np.nanmax(values) < 360.0
        return values if inside else wrap360(values)
    return wrap180(values) if name == "bank_deg" else values


def hold_against_track(flight: RawFlight, moved: Movement) -> RawFlight:
    """Compare each channel with the track; drop, mend or keep it, and say so.

    Parameters
    ----------
    flight : RawFlight
        Units and references settled, values in range.
    moved : Movement

    Returns
    -------
    RawFlight
    """
    channels, notices = dict(flight.channels), list(flight.notices)
    for name in list(channels):
        values, said = _judged(name, channels[name], flight, moved)
        notices.extend(said)
        if values is None:
            del channels[name]
        else:
            channels[name] = values
    return replace(flight, channels=channels, notices=tuple(notices))


def _judged(
    name: str, values: FloatArray, flight: RawFlight, moved: Movement
) -> tuple[FloatArray | None, list[Notice]]:
    thawed, frozen = _without_frozen(name, values, flight, moved)
    said = [frozen] if frozen is not None else []
    if thawed is None:
        return None, said
    if name == "ground_speed_kt":
        return _ground_speed(thawed, moved, said)
    if name == "track_true_deg":
        return _track(thawed, moved, said)
    if name in ("heading_true_deg", "heading_magnetic_deg"):
        return _heading(name, thawed, moved, said)
    if name == "bank_deg":
        return _bank(thawed, flight, moved, said)
    return thawed, said


def _lagging(word: str, lag_s: float) -> Notice:
    return Notice(
        "channel-lagging", f"The logged {word} runs {lag_s:.0f} s behind the track; it was not used."
    )


def _disagrees(word: str, why: str) -> Notice:
    return Notice("channel-disagrees", f"The logged {word} was not used: {why}.")


def _ground_speed(
    values: FloatArray, moved: Movement, said: list[Notice]
) -> tuple[FloatArray | None, list[Notice]]:
    found = speed_ratio(values, moved)
    if found is not None and not 0.92 < found[0] < 1.08:
        why = f"it is {found[0]:.2f} times the speed over the ground by positions, as with a wrong unit"
        return None, [*said, _disagrees("ground speed", why)]
    return values, said


def _track(values: FloatArray, moved: Movement, said: list[Notice]) -> tuple[FloatArray | None, list[Notice]]:
    here = values[moved.index]
    use = moved.flying & np.isfinite(here) & (np.abs(moved.turn_dps) < 1.0)
    if int(use.sum()) < 25:
        return values, said
    gap = wrap180(here[use] - moved.track_deg[use])
    off = float(np.median(np.abs(gap)))
    if off > 6.0:
        return None, [*said, _disagrees("track", f"it differs from the track by positions by {off:.0f}°")]
    return values, said


def _heading(
    name: str, values: FloatArray, moved: Movement, said: list[Notice]
) -> tuple[FloatArray | None, list[Notice]]:
    fit = fit_heading(values, moved)
    if fit is not None and fit.lag_s > max(LAG_S, 3.0 * fit.lag_sd_s):
        return None, [*said, _lagging(_WORDS[name], fit.lag_s)]
    if fit is not None and fit.all_round and fit.scatter_deg > 25.0:
        return None, [*said, _disagrees(_WORDS[name], "it does not follow the track")]
    return values, said


def _bank(
    values: FloatArray, flight: RawFlight, moved: Movement, said: list[Notice]
) -> tuple[FloatArray | None, list[Notice]]:
    fit = fit_bank(values, flight.time_s, moved)
    if fit is None or not fit.turns:
        return values, said
    if abs(fit.lag_s) > LAG_S + 0.5 and abs(fit.best_correlation) > abs(fit.correlation) + 0.04 > 0.3:
        return None, [*said, _lagging("bank", fit.lag_s)]
    if fit.correlation < -0.5:
        notice = Notice(
            "bank-sign", "The logged bank is positive to the left, by the turns flown; its sign was changed."
        )
        return -values, [*said, notice]
    if fit.correlation < 0.35:
        return None, [*said, _disagrees("bank", "it does not go with the turns flown")]
    if not 0.4 < fit.slope < 2.2:
        return None, [*said, _disagrees("bank", f"it is {fit.slope:.2g} times what the turns took")]
    return values, said


def _without_frozen(
    name: str, values: FloatArray, flight: RawFlight, moved: Movement
) -> tuple[FloatArray | None, Notice | None]:
    """Blank out stretches where the value stood still and the track shows that it cannot have."""
    if moved.index.size < 10 or not _can_freeze(name):
        return values, None
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 3:
        return values, None
    changes = np.flatnonzero(np.diff(values[known]) != 0.0) + 1
    starts, ends = np.concatenate([[0], changes]), np.concatenate([changes, [known.size]]) - 1
    start_s, end_s = flight.time_s[known[starts]], flight.time_s[known[ends]]
    long = np.flatnonzero(end_s - start_s >= (_SPEED_FROZEN_S if name.endswith("_kt") else _FROZEN_S))
    if long.size == 0:
        return values, None
    blank = np.zeros(values.size, dtype=bool)
    total = 0.0
    flying, expected = moved.flying, expected_bank(moved)
    firsts = np.searchsorted(moved.time_s, start_s[long])
    lasts = np.searchsorted(moved.time_s, end_s[long] + 1e-9)
    worth = _changed_at_all(name, moved, expected, firsts, lasts)
    for run, first, last in zip(long[worth], firsts[worth], lasts[worth], strict=True):
        span = np.arange(first, last)[flying[first:last]]
        if span.size >= 5 and _must_have_changed(name, moved, expected, span):
            since_s = _departs(name, moved, expected, span)
            blank[int(np.searchsorted(flight.time_s, since_s)) : known[ends[run]] + 1] = True
            total += float(end_s[run]) - since_s
    if not blank.any():
        return values, None
    word = _WORDS.get(name, name)
    aloft = float(moved.flying.mean()) * float(flight.time_s[-1] - flight.time_s[0])
    if total > 0.4 * aloft:
        return None, Notice(
            "channel-frozen", f"The logged {word} stands still while the aircraft turns; it was not used."
        )
    message = f"The logged {word} stands still for {total:.0f} s while the aircraft moves on; not used there."
    return np.where(blank, np.nan, values), Notice("channel-frozen", message)


def _can_freeze(name: str) -> bool:
    # An altitude or a temperature may stand still in truth.
    return name in (*_DIRECTIONS[:3], "bank_deg", "ground_speed_kt", "ias_kt", "tas_kt")


def _departs(name: str, moved: Movement, expected: FloatArray, span: NDArray[np.intp]) -> float:
    """Find when the track leaves what the channel shows: until then the value may well be true."""
    if name in _DIRECTIONS:
        away = np.abs(wrap180(moved.track_deg[span] - moved.track_deg[span[0]])) > 0.25 * _TRACK_CHANGE_DEG
    elif name == "bank_deg":
        away = np.abs(expected[span] - expected[span[0]]) > 0.5 * _BANK_CHANGE_DEG
    else:
        away = np.ones(span.size, dtype=bool)
    return float(moved.time_s[span[int(np.argmax(away))]]) if away.any() else float(moved.time_s[span[0]])


def _changed_at_all(
    name: str, moved: Movement, expected: FloatArray, firsts: NDArray[np.intp], lasts: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Pass over stretches in which what the channel measures cannot have changed enough: all at once, cheaply."""
    if name.endswith("_kt"):
        return np.ones(firsts.size, dtype=bool)
    series, least = (
        (expected, _BANK_CHANGE_DEG) if name == "bank_deg" else (moved.track_deg, _TRACK_CHANGE_DEG)
    )
    steps = np.diff(series)
    way = np.concatenate([[0.0], np.cumsum(np.abs(steps if name == "bank_deg" else wrap180(steps))), [0.0]])
    return np.asarray(way[np.maximum(lasts - 1, firsts)] - way[firsts] > least)


def _must_have_changed(name: str, moved: Movement, expected: FloatArray, span: NDArray[np.intp]) -> bool:
    if name in _DIRECTIONS:
        track = np.unwrap(moved.track_deg[span], period=360.0)
        return float(np.ptp(track)) > _TRACK_CHANGE_DEG
    if name == "bank_deg":
        low, high = np.percentile(expected[span], [15, 85])
        return float(high - low) > _BANK_CHANGE_DEG
    # Averaged over half a minute: positions that jitter in time make the speed by positions jitter too.
    width = max(1, min(span.size // 3, int(30.0 / max(float(np.median(np.diff(moved.time_s))), 0.1))))
    speed = np.convolve(moved.speed_kt[span], np.full(width, 1.0 / width), mode="valid")
    if name == "ground_speed_kt":
        return float(np.ptp(speed)) > _SPEED_CHANGE_KT
    # Wind changes the ground speed with direction: an airspeed is frozen only where the ground speed
    # changes on one and the same track.
    track = moved.track_deg[span][(width - 1) // 2 :][: speed.size]
    sector = (track // 30.0).astype(int)
    return any(float(np.ptp(speed[sector == s])) > _SPEED_CHANGE_KT for s in np.unique(sector))
