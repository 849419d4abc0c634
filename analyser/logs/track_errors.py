"""How a track errs, read off the track itself: what was truly sampled, how right its clock is, how right its places.

A log's rows are not its samples. Feeds write rows by interpolating between true samples, and a feed's times wander by
tenths of a second to seconds, so that the aircraft seems to speed up and slow down along a path that is right in shape.
What a steady aircraft does between neighbouring samples tells these errors apart: a clock's error lies *along* the
track and grows with the speed, a position's error lies across it as well, and a row that was interpolated lies on the
straight line between its neighbours where the aircraft was turning.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.constants import METRES_PER_NM, SIGMA_PER_MEDIAN
from analyser.frozen import dataclass
from analyser.logs.log_thresholds import ERRORS
from analyser.logs.movement import unroll

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: Metres east as real, north as imaginary part.
Places = NDArray[np.complex128]


@dataclass(frozen=True)
class Corners:
    """True samples that no row shows, (m,) each: where the chords through interpolated rows meet."""

    time_s: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray


_NO_CORNERS = Corners(np.empty(0), np.empty(0), np.empty(0))


@dataclass(frozen=True)
class TrackErrors:
    """The error model of one log."""

    #: Median seconds between rows.
    interval_s: float
    #: Seconds between true samples in the turns, for most of their time: more where rows were interpolated.
    effective_s: float
    #: (n,) False for rows that were interpolated.
    true_sample: BoolArray
    corners: Corners
    #: Sigma of the times of true samples about the true clock; 0 where none shows.
    time_jitter_s: float
    #: Sigma per axis of the positions from sample to sample; errors that change slowly do not show.
    position_noise_m: float
    #: What times and positions are rounded to; 0 where no rounding shows.
    time_step_s: float
    position_step_m: float
    #: Whether the clock's error stays for seconds: of rows that share it, one in ``effective_s`` is a true sample.
    slips: bool = False

    @property
    def interpolated(self) -> bool:
        """Whether rows were interpolated between true samples."""
        return not self.slips and not bool(self.true_sample.all())

    @property
    def untidy(self) -> bool:
        """Whether clock, interpolation or rough places limit what can be measured: it is fitted by its error model."""
        return self.interpolated or self.time_jitter_s > 0.0 or self.position_noise_m > ERRORS.rough_m


def true_samples(
    errors: TrackErrors,
    time_s: FloatArray,
    lat_deg: FloatArray,
    lon_deg: FloatArray,
    start_s: float,
    end_s: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return time, latitude and longitude of a track's true samples in a span: its own rows, and corners between them.

    ``errors`` are the track's.
    """
    rows = errors.true_sample & (time_s >= start_s) & (time_s <= end_s)
    corners = errors.corners
    between = (corners.time_s > start_s) & (corners.time_s < end_s)
    if not between.any():
        return time_s[rows], lat_deg[rows], lon_deg[rows]
    times = np.concatenate([time_s[rows], corners.time_s[between]])
    order = np.argsort(times, kind="stable")
    lat = np.concatenate([lat_deg[rows], corners.lat_deg[between]])
    lon = np.concatenate([lon_deg[rows], wrap180(corners.lon_deg[between])])
    return times[order], lat[order], lon[order]


def track_errors(
    time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray, *, slipping: bool = True
) -> TrackErrors:
    """Estimate how a track errs, its times increasing; without clock errors where too few samples tell.

    ``slipping`` looks for errors of the clock that neighbours share, too.
    """
    found = _by_rows(time_s, lat_deg, lon_deg, slipping=slipping)
    if found.interpolated:
        return found
    # The arc between rows near each other hides behind rounding and noise; between some that are passed over it shows.
    for rounded_m, apart_s in ERRORS.apart_m_s:
        every = round(apart_s / max(found.interval_s, 1e-3))
        if every < 2 or found.position_step_m < rounded_m:
            continue
        pick = slice(None, None, every)
        apart = _by_rows(time_s[pick], lat_deg[pick], lon_deg[pick], slipping=False)
        if apart.interpolated:
            true_sample = np.zeros(time_s.size, dtype=bool)
            true_sample[pick] = apart.true_sample
            return replace(apart, interval_s=found.interval_s, true_sample=true_sample)
    return found


def _by_rows(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray, *, slipping: bool) -> TrackErrors:
    """Estimate how a track errs from each row and its neighbours."""
    steps = np.diff(time_s)
    interval = float(np.median(steps)) if steps.size else 1.0
    place_step = rounded_to_m(lat_deg)
    time_step = decimal_step(time_s, 3)
    every = np.ones(time_s.size, dtype=bool)
    plain = TrackErrors(interval, interval, every, _NO_CORNERS, 0.0, 0.0, time_step, place_step)
    if time_s.size < ERRORS.least_rows:
        return plain
    east, north = unroll(lat_deg, lon_deg)
    place = east + 1j * north
    turn_dps = _turn_rate_dps(time_s, place, ERRORS.turning_over_s)
    turning = turn_dps > ERRORS.turning_dps
    # A feed interpolates along parallels or great circles; on the map those bend by so much from row to row.
    middle = np.radians(min(float(np.median(np.abs(lat_deg))), 85.0))
    bend = np.tan(middle) / 6.37e6
    # Rounding's own sigma; along a parallel or a meridian no change from sample to sample shows it.
    rounding = place_step * float(np.sqrt((1.0 + np.cos(middle) ** 2) / 24.0))
    on_line = _on_line(time_s, place, turn_dps, place_step, bend)
    if not on_line.any():
        # Faster than twice a second, neighbours err alike: a clock's jitter is looked for over half a second at least.
        pick = slice(None, None, max(1, round(ERRORS.least_spacing_s / max(interval, 1e-3))))
        jitter, noise = _clock_and_place(time_s[pick], place[pick], rounding)
        plain = replace(plain, time_jitter_s=jitter, position_noise_m=noise)
        slips, shared, spaced = _slips(time_s, place, noise, interval)
        if not slipping or slips <= ERRORS.slips_over_jitter * jitter:
            return plain
        if not shared:
            return replace(plain, time_jitter_s=slips)
        slips *= ERRORS.slips_shared_ratio
        return replace(
            plain, effective_s=ERRORS.slips_over_s, true_sample=spaced, time_jitter_s=slips, slips=True
        )
    before, corner_s, reach = _between_rows(time_s, place, on_line)
    on_line[before] = on_line[before + 1] = True
    rows = np.flatnonzero(~on_line)
    order = np.argsort(np.concatenate([rows, before + 0.5]))
    at = np.concatenate([time_s[rows], corner_s])[order]
    corner, corner_lat, corner_lon = (
        values[before] + reach * (values[before] - values[before - 1])
        for values in (place, lat_deg, np.unwrap(lon_deg, period=360.0))
    )
    jitter, noise = _clock_and_place(at, np.concatenate([place[rows], corner])[order], rounding)
    rounded_s = max(time_step, 1.0) / np.sqrt(12.0)
    gaps, bent = np.diff(at), np.interp(at, time_s, turning.astype(float)) > 0.5
    # A chord between two corners of a turn is straight itself: what counts is that it begins and ends in the turn.
    in_turn = bent[:-1] & bent[1:] & (gaps <= ERRORS.long_chord_s)
    effective = _usual_gap(gaps[in_turn] if in_turn.sum() >= ERRORS.least_gaps else gaps)
    # Rows well inside long chords: on a straight leg they are as good as samples, and hold the path down.
    after = np.clip(np.searchsorted(at, time_s), 1, at.size - 1)
    inside = np.minimum(time_s - at[after - 1], at[after] - time_s) >= ERRORS.chord_ends_s
    anchors = inside & (gaps[after - 1] > max(ERRORS.long_chord_s, ERRORS.long_gaps * effective))
    return replace(
        plain,
        effective_s=effective,
        true_sample=~on_line | anchors,
        corners=Corners(corner_s, corner_lat, corner_lon),
        time_jitter_s=max(jitter, float(np.hypot(rounded_s, 0.5 * ERRORS.latency_s))),
        position_noise_m=noise,
    )


def rounded_to_m(degrees: FloatArray, most: int = 8) -> float:
    """Return what latitudes or longitudes are rounded to, metres along a great circle; ``most`` decimals are tried."""
    return decimal_step(degrees, most) * 60.0 * METRES_PER_NM


def decimal_step(values: FloatArray, most: int) -> float:
    """Return the decimal step, of so many digits at most, that nearly all values are multiples of; 0 for none."""
    for digits in range(most):
        scaled = values * 10.0**digits
        if float(np.mean(np.abs(scaled - np.round(scaled)) < 1e-3)) > ERRORS.decimal_share:
            return float(10.0**-digits)
    return 0.0


def _usual_gap(gaps: FloatArray) -> float:
    """Return the gap that an instant lies in, for half of all instants at least."""
    ordered = np.sort(gaps)
    return float(ordered[np.searchsorted(np.cumsum(ordered), 0.5 * ordered.sum())])


def _turn_rate_dps(time_s: FloatArray, place: Places, over: float) -> FloatArray:
    """Return how fast rows turn, by the directions so many seconds before and after them.

    0 where nothing flies; NaN beside a hole of the log: what lies across one turned within it, perhaps, not here.
    """
    came = place - np.interp(time_s - over, time_s, place)
    goes = np.interp(time_s + over, time_s, place) - place
    turned = np.degrees(np.angle(goes * np.conj(came)))
    flying = np.minimum(np.abs(came), np.abs(goes)) > ERRORS.flying_mps * over
    gaps = np.diff(time_s)
    after = np.flatnonzero(gaps > ERRORS.hole_ratio * max(over, float(np.median(gaps)))) + 1
    begun = np.searchsorted(time_s[after - 1], time_s + over)
    ended = np.searchsorted(time_s[after], time_s - over, side="right")
    return np.where(begun == ended, np.where(flying, np.abs(turned) / over, 0.0), np.nan)


def _on_line(
    time_s: FloatArray, place: Places, turn_dps: FloatArray, place_step_m: float, bend: float
) -> BoolArray:
    """Mark the rows on their neighbours' line; none where the turns do not show that rows were interpolated."""
    step, dt = np.diff(place), np.diff(time_s)
    before, after = step[:-1], step[1:]
    length = np.minimum(np.abs(before), np.abs(after))
    tolerance = ERRORS.on_line_m + place_step_m + ERRORS.bend_ratio * bend * length**2
    across = np.abs((after * np.conj(before)).imag) / np.maximum(np.abs(before + after), 1e-9)
    sagitta = 0.5 * np.radians(turn_dps[1:-1]) * length * np.minimum(dt[:-1], dt[1:])
    telling = (turn_dps[1:-1] > ERRORS.turning_dps) & (sagitta > ERRORS.sagitta_tolerances * tolerance)
    straight = (across < tolerance) & ((after * np.conj(before)).real > 0.0)
    found = np.zeros(time_s.size, dtype=bool)
    if telling.sum() >= ERRORS.least_turning_rows and straight[telling].mean() >= ERRORS.interpolated_share:
        found[1:-1] = straight
    return found


def _between_rows(
    time_s: FloatArray, place: Places, on_line: BoolArray
) -> tuple[NDArray[np.intp], FloatArray, FloatArray]:
    """Find the corners that lie between two rows: the chord before and the chord after meet there.

    Gives the row before each, its time, and how many times the chord that ends at that row reaches beyond it.
    """
    i = np.arange(2, time_s.size - 3)
    # Both rows are bent, and a row further on either side lies on the chord that is carried on.
    i = i[~on_line[i] & ~on_line[i + 1] & on_line[i - 1] & on_line[i + 2]]
    step, dt = np.diff(place), np.diff(time_s)
    came, cut, goes = step[i - 1], step[i], step[i + 1]
    bent = (goes * np.conj(came)).imag
    bent = np.where(np.abs(bent) < 1e-9, np.inf, bent)
    reach = (goes * np.conj(cut)).imag / bent
    back = (cut * np.conj(came)).imag / bent
    length = ERRORS.corner_ratio * np.abs(cut)
    fine = (reach > 0.0) & (back > 0.0) & (reach * np.abs(came) < length) & (back * np.abs(goes) < length)
    i, reach, back = i[fine], reach[fine], back[fine]
    by_both = 0.5 * (time_s[i] + reach * dt[i - 1] + time_s[i + 1] - back * dt[i + 1])
    beside = ERRORS.corner_share * dt[i]
    return i, np.clip(by_both, time_s[i] + beside, time_s[i + 1] - beside), reach


def _slips(
    time_s: FloatArray, place: Places, noise_m: float, interval_s: float
) -> tuple[float, bool, BoolArray]:
    """Return a clock's sigma, 0 for none; whether its error stays for seconds; rows too far apart to share it.

    Neighbours share such an error, and their many would be taken for that many witnesses.
    """
    spaced = np.zeros(time_s.size, dtype=bool)
    if interval_s > 0.5 * ERRORS.slips_over_s:
        return 0.0, False, spaced
    beat = np.floor((time_s - time_s[0]) / ERRORS.slips_over_s)
    first = np.flatnonzero(np.diff(beat, prepend=-1.0))
    spaced[first] = True
    widest = ERRORS.slips_widest_deg
    slips, _ = _clock_and_place(time_s[spaced], place[spaced], noise_m, widest)
    speed = float(np.median(np.abs(np.diff(place)) / np.diff(time_s)))
    # The mean of rows that err each for itself is known far better than one of them.
    count = np.diff(np.append(first, time_s.size))
    at, mean = np.add.reduceat(time_s, first) / count, np.add.reduceat(place, first) / count
    left, _ = _clock_and_place(at, mean.astype(complex), noise_m, widest)
    least_m = max(ERRORS.least_slips_m, ERRORS.slips_over_noise * noise_m)
    return slips if slips * speed > least_m else 0.0, left > ERRORS.slips_left_share * slips, spaced


def _clock_and_place(
    time_s: FloatArray, place: Places, rounding_m: float, widest_deg: float = ERRORS.widest_deg
) -> tuple[float, float]:
    """Return the sigmas of clock (seconds) and position (metres per axis), from neighbouring true samples."""
    if time_s.size < ERRORS.least_rows:
        return 0.0, rounding_m
    step, dt = np.diff(place), np.diff(time_s)
    before, after, first, second = step[:-1], step[1:], dt[:-1], dt[1:]
    whole = np.maximum(np.abs(before + after), 1e-9)
    direction = (before + after) / whole
    speed = whole / (first + second)
    share = first / (first + second)
    off = (before - share * (before + after)) * np.conj(direction)
    turned = np.abs(np.degrees(np.angle(after * np.conj(before))))
    usual = float(np.median(dt))
    use = (speed > ERRORS.flying_mps) & (turned < widest_deg) & (first + second < ERRORS.hole_ratio * usual)
    if use.sum() < ERRORS.least_used:
        return 0.0, rounding_m
    # Of three samples with errors of sigma s the middle one stands off the others' line by this many s.
    scale = np.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
    along = robust_sigma((off.real / scale)[use])
    straight = use & (turned < ERRORS.straight_deg)
    # Places so wrong that a leg's samples seem to turn: those that happen to lie in line are no measure of it.
    calm = use & (_turn_rate_dps(time_s, place, ERRORS.calm_over_s)[1:-1] < ERRORS.calm_dps)
    if calm.sum() >= ERRORS.least_straight and (straight & calm).sum() < 0.5 * calm.sum():
        straight = calm
        along = robust_sigma((off.real / scale)[calm])
    if usual > ERRORS.fine_s and straight.sum() >= ERRORS.least_straight:
        across = robust_sigma((off.imag / scale)[straight])
    elif usual > ERRORS.coarse_s:
        across = ERRORS.navigation_m
    else:
        # A steady turn stands off its chord by the same from sample to sample; what changes is noise.
        bent = off.imag / np.maximum(first * second, 1e-9) * usual**2
        steady = use[:-1] & use[1:]
        changes = np.diff(bent)[steady]
        spread = robust_sigma if usual <= ERRORS.fine_s else _quiet_sigma
        across = spread(changes) / np.sqrt(5.0) if changes.size >= ERRORS.least_straight else along
    across = max(rounding_m, min(across, along))
    flown = float(np.median(speed[use]))
    pilot = 0.5 * ERRORS.acceleration_mps2 * usual**2
    clock = along**2 - across**2 - pilot**2
    least = max(ERRORS.least_along_m, pilot, ERRORS.least_jitter_s * flown)
    if along < ERRORS.along_over_across * across or clock < least**2:
        return 0.0, across
    return float(np.sqrt(clock)) / flown, across


def _quiet_sigma(values: FloatArray) -> float:
    """Return a sigma from the quietest quarter: half of a hold's coarse samples stand where a turn begins or ends."""
    return float(np.percentile(np.abs(values), 25.0)) / 0.3186


def robust_sigma(values: FloatArray) -> float:
    """Return a sigma about zero that a few wild values do not move, but a heavy tail does."""
    size = np.abs(values)
    return max(SIGMA_PER_MEDIAN * float(np.median(size)), float(np.percentile(size, 90.0)) / 1.645)
