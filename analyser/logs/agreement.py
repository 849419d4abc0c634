"""How a logged channel agrees with the track: offset, lag, sign, scale. Positions are the measure of the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.frozen import dataclass
from analyser.logs.log_thresholds import MATCH
from analyser.logs.movement import FloatArray, Movement


@dataclass(frozen=True)
class HeadingFit:
    """Heading minus track, taken apart."""

    #: The constant part: what is left when drift has been averaged over all directions.
    offset_deg: float
    #: How far the channel runs behind the track, and one sigma.
    lag_s: float
    lag_sd_s: float
    #: Rms of what the model leaves.
    scatter_deg: float
    #: Whether the track covered the circle, so that drift does average out.
    all_round: bool
    #: Amplitude of heading minus track over all directions: the drift by the heading.
    drift_deg: float


def _sectors(moved: Movement) -> tuple[NDArray[np.intp], FloatArray]:
    """Count the samples in each eighth of the circle, and weigh each so that every eighth counts the same.

    A long cruise in one direction must not pass for the whole.
    """
    count = np.bincount(moved.eighth, minlength=8)
    return count, 1.0 / np.sqrt(count[moved.eighth])


def fit_heading(heading_deg: FloatArray, moved: Movement) -> HeadingFit | None:
    """Compare a heading with the track; None where there are too few samples.

    In a steady wind heading − track = offset + a·sin(track) + b·cos(track) to first order; a channel that lags
    by L seconds adds −L·(turn rate).
    """
    here, moved = moved.take(np.abs(moved.turn_dps) < MATCH.fastest_turn_dps).beside(heading_deg)
    if here.size < MATCH.enough_samples:
        return None
    track, turn = moved.track_deg, moved.turn_dps
    gap = wrap180(here - track)
    # About the mean round the circle, no difference is cut at 180°.
    middle = float(np.degrees(np.angle(np.exp(1j * np.radians(gap)).mean())))
    gap = middle + wrap180(gap - middle)
    angle = np.radians(track)
    design = np.column_stack([np.ones_like(track), np.sin(angle), np.cos(angle), turn])
    count, weight = _sectors(moved)
    keep = np.ones(gap.size, dtype=bool)
    for _ in range(3):
        weighted = design[keep] * weight[keep, None]
        found = np.linalg.lstsq(weighted, gap[keep] * weight[keep], rcond=None)[0]
        left = gap - design @ found
        spread = max(1.0, float(np.median(np.abs(left[keep]))) * SIGMA_PER_MEDIAN)
        before, keep = keep, np.abs(left) < MATCH.outlier_sigmas * spread
        if np.array_equal(before, keep):
            break
    normal = np.linalg.pinv(design[keep].T @ design[keep])
    lag_sd = spread * float(np.sqrt(MATCH.samples_alike * normal[3, 3]))
    straight = float(np.mean(np.abs(turn) < MATCH.straight_dps)) > MATCH.straight_share
    return HeadingFit(
        float(wrap180(found[0])),
        float(-found[3]),
        lag_sd if straight and float(np.ptp(turn)) > MATCH.turns_apart_dps else np.inf,
        float(np.sqrt(np.mean(left[keep] ** 2))),
        bool((count >= max(MATCH.eighth_samples, MATCH.eighth_share * track.size)).sum() >= MATCH.all_round),
        float(np.hypot(found[1], found[2])),
    )


def _speed_by_direction(moved: Movement) -> tuple[float, float, float] | None:
    """Fit the ground speed by direction, V + W·cos(track − downwind), to first order that of a steady airspeed V.

    Gives V, the wind W and the rms of what is left, knots; None where the aircraft did not go all round.
    """
    moved = moved.take(moved.flying)
    if moved.index.size < 4 * MATCH.enough_samples:
        return None
    angle, speed = np.radians(moved.track_deg), moved.speed_kt
    count, weight = _sectors(moved)
    if count.min() < MATCH.eighth_samples:
        return None
    design = np.column_stack([np.ones_like(angle), np.sin(angle), np.cos(angle)])
    found = np.linalg.lstsq(design * weight[:, None], speed * weight, rcond=None)[0]
    left = float(np.sqrt(np.average((speed - design @ found) ** 2, weights=weight**2)))
    return float(found[0]), float(np.hypot(found[1], found[2])), left


def unevenness(speed_kt: FloatArray | None, moved: Movement) -> float:
    """Return by what share the ground speed differs with direction, rms over all eighths of the circle.

    That is from a logged ground speed, in whatever unit, or without one from a steady airspeed's in a wind. NaN where
    there are too few samples, or the aircraft did not go all round.
    """
    airspeed_kt, _, left_kt = _speed_by_direction(moved) or (np.nan, np.nan, np.nan)
    if speed_kt is None or np.isnan(airspeed_kt):
        return left_kt / airspeed_kt
    here, moved = moved.beside(speed_kt)
    ratio, sector = here / moved.speed_kt, moved.eighth
    middles = np.array([np.median(ratio[sector == one]) for one in np.unique(sector)])
    return float(middles.std() / middles.mean()) if middles.size == 8 else np.nan


def drift_by_speed(moved: Movement) -> float | None:
    """Return the drift, degrees, that the ground speed's variation with direction asks for: its amplitude is W / V.

    None where the aircraft did not go all round or its airspeed changed too much to tell.
    """
    airspeed_kt, wind_kt, left_kt = _speed_by_direction(moved) or (0.0, 0.0, 0.0)
    if left_kt > MATCH.unexplained_share * wind_kt or airspeed_kt <= 0.0:
        return None
    return float(np.degrees(wind_kt / airspeed_kt))


def mean_airspeed(moved: Movement) -> float | None:
    """Return the true airspeed, knots, that the ground speeds in all directions ask for.

    None where the aircraft did not go all round or its airspeed changed by much.
    """
    found = _speed_by_direction(moved)
    return found[0] if found is not None and found[2] <= MATCH.steady_share * found[0] else None


def off_track_deg(direction_deg: FloatArray, moved: Movement) -> float:
    """Return by how much a direction differs from the track while flying, degrees, median; NaN for too few samples."""
    here, moved = moved.beside(direction_deg)
    return (
        float(np.median(np.abs(wrap180(here - moved.track_deg))))
        if here.size >= MATCH.enough_samples
        else np.nan
    )


@dataclass(frozen=True)
class BankFit:
    """Logged bank against the bank that the turns took."""

    #: At no shift, −1 … 1.
    correlation: float
    #: The largest correlation (of either sign) and the shift where it lies; as it is, where no shift can count.
    best_correlation: float
    lag_s: float
    #: Logged over expected.
    slope: float
    #: Whether there were turns to compare with.
    turns: bool


def fit_bank(bank: FloatArray, time_s: FloatArray, moved: Movement) -> BankFit | None:
    """Compare a bank channel, in whatever unit and sign, with the turns; None where there are too few samples."""
    here, moved = moved.beside(bank)
    if here.size < MATCH.enough_samples:
        return None
    expected = moved.expected_bank_deg
    turns = int((np.abs(expected) > MATCH.banked_deg).sum()) >= MATCH.banked_samples
    # Who turns one way all the time has no other bank to compare: there what counts is how alike the two are.
    one_turn = abs(float(expected.mean())) > MATCH.one_turn_ratio * float(expected.std())
    unshifted = _alike(here, expected) if one_turn else _correlation(here, expected)
    best, lag_s = unshifted, 0.0
    # What goes so well with the turns as it is cannot go better by the margin.
    if abs(unshifted) < 1.0 - MATCH.lag_margin and not one_turn:
        known, shifts = np.isfinite(bank), np.arange(-MATCH.longest_lag_s, MATCH.longest_lag_s + 1.0)
        shifted = [np.interp(moved.time_s + s, time_s[known], bank[known]) for s in shifts]
        scores = [_correlation(one, expected) for one in shifted]
        peak = int(np.argmax(np.abs(scores)))
        best, lag_s = scores[peak], float(shifts[peak])
    square = float(np.sum(expected**2))
    slope = float(np.sum(here * expected)) / square if square > 0.0 else 0.0
    return BankFit(unshifted, best, lag_s, slope, turns)


def _correlation(one: FloatArray, two: FloatArray) -> float:
    return _alike(one - one.mean(), two - two.mean())


def _alike(one: FloatArray, two: FloatArray) -> float:
    size = float(np.sqrt((one * one).sum() * (two * two).sum()))
    return float((one * two).sum()) / size if size > 1e-12 else 0.0


def speed_ratio(speed: FloatArray, moved: Movement) -> tuple[float, float] | None:
    """Compare a speed, in any unit, with the ground speed; None where there are too few samples.

    Gives the median of speed over ground speed, and the relative scatter about it (one sigma, robust).
    """
    here, moved = moved.beside(np.where(speed > 0.0, speed, np.nan))
    if here.size < MATCH.enough_samples:
        return None
    ratio = here / moved.speed_kt
    middle = float(np.median(ratio))
    return middle, float(np.median(np.abs(ratio / middle - 1.0)) * SIGMA_PER_MEDIAN)


def climb_ratio(climb: FloatArray, height: FloatArray, time_s: FloatArray) -> float | None:
    """Compare a vertical speed with the rate of change of height, in whatever units.

    Returns climb over height change per second; None where nothing climbs or the two do not go together.
    """
    known = np.isfinite(climb) & np.isfinite(height)
    if int(known.sum()) < MATCH.enough_samples:
        return None
    grid = np.arange(time_s[known][0], time_s[known][-1], MATCH.climb_step_s)
    if grid.size < MATCH.climb_steps:
        return None
    rate = np.diff(np.interp(grid, time_s[known], height[known])) / MATCH.climb_step_s
    total = np.concatenate(
        [[0.0], np.cumsum(0.5 * np.diff(time_s[known]) * (climb[known][1:] + climb[known][:-1]))]
    )
    mean = np.diff(np.interp(grid, time_s[known], total)) / MATCH.climb_step_s
    square = float((rate * rate).sum())
    if square == 0.0 or _correlation(rate, mean) < MATCH.climb_correlation:
        return None
    return float((rate * mean).sum()) / square
