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
from analyser.earth.constants import SIGMA_PER_MEDIAN
from analyser.frozen import dataclass
from analyser.logs.movement import unroll

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
#: Metres east as real, north as imaginary part.
Places = NDArray[np.complex128]
#: Slower than this an aircraft taxies.
_FLYING_MPS = 12.0
#: Turn rate from which a row counts as in a turn, a quarter of rate one, read from so long before it to so long after.
_TURNING_DPS, _TURNING_OVER_S = 0.7, 15.0
#: From fewer rows in turns nothing is said about interpolation; one tells whether it was interpolated where a turn's
#: arc stands off its chord by so many tolerances.
_LEAST_TURNING_ROWS, _SAGITTA = 12, 4.0
#: A log is interpolated where this share of the rows in turns lies on its neighbours' line: none would.
_INTERPOLATED_SHARE = 0.25
#: Rounding in the making of an interpolated row, beside that of the log's own digits, metres.
_ON_LINE_M = 0.05
#: Where rows are nearer, made-up ones are looked for among rows so many seconds apart, too, if positions are rounded to
#: more than so many metres: (metres, seconds).
_APART_S = ((0.0, 1.0), (0.5, 2.0), (0.5, 3.0))
#: No turn of a hold hides in a chord longer than this (and longer than so many usual gaps, where those are long
#: themselves): rows well inside such a chord, so far from its ends, are kept as anchors.
_LONG_CHORD_S, _LONG_GAPS, _CHORD_ENDS_S = 45.0, 1.5, 15.0
#: A pilot's own changes of speed along the track, rms: not to be taken for a clock's.
_ACCELERATION_MPS2 = 0.15
#: Three samples that turn by more than this tell nothing about the clock.
_WIDEST_DEG = 60.0
#: Along-track errors below this are no clock's: receivers err so much; nor is a jitter below this told from a pilot who
#: plays with the throttle; nor are errors that are hardly larger than those across the track.
_LEAST_ALONG_M, _LEAST_JITTER_S, _ALONG_OVER_ACROSS = 3.0, 0.1, 1.5
#: Satellite navigation scatters less from sample to sample; beyond this a track is rough.
_ROUGH_M = 8.0
#: Between samples no further apart than this no roll shows: what changes across the track is all noise. Samples further
#: apart than the other cannot tell a position's noise from a turn, and are as right as surveillance says of a good
#: position: within 30 m in 95 % (navigation accuracy category 9, RTCA DO-260B, from memory), per axis, one sigma.
_FINE_S, _COARSE_S, _NAVIGATION_M = 1.5, 15.0, 12.3
#: Uncompensated latency that a surveillance position may have (14 CFR 91.227(e), from memory), taken for two sigmas. A
#: feed that makes rows up between true samples writes whole seconds for them at best (common practice).
_LATENCY_S = 0.6
#: Three samples that turn by less than this lie on a straight leg, where what stands off across is all noise. So does
#: one around which the track turns no faster than half as fast as in a turn, from so long before it to so long after:
#: places have to err by a quarter of a mile to seem to turn. From fewer of them nothing is read.
_STRAIGHT_DEG, _CALM_DPS, _CALM_OVER_S, _LEAST_STRAIGHT = 3.0, 0.35, 25.0, 8
#: A lag that slips and stays shows between samples so far apart and not between neighbours; on straight legs, where no
#: wind that is turned through changes the speed; beyond what gusts and a throttle do in that time (3 kt for 10 s;
#: common practice), and so many times the jitter from sample to sample and the noise of places, which show there too.
_SLIPS_OVER_S, _SLIPS_WIDEST_DEG, _LEAST_SLIPS_M = 10.0, 10.0, 45.0
_SLIPS_OVER_JITTER, _SLIPS_OVER_NOISE = 1.6, 2.0
#: Of errors that rows have each for itself less than this share is left in the mean of those in that time.
_SLIPS_LEFT = 0.48
#: An error that is forgotten within the time between two samples is seen there at three quarters of its size, and
#: averages out as if it were half as large again (Ornstein and Uhlenbeck's process; derived): twice as much. Rows that
#: such a feed loses at its leaps make it this (swept on lags that are drawn anew every dozen seconds).
_SLIPS_SHARED = 2.5


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
        return self.interpolated or self.time_jitter_s > 0.0 or self.position_noise_m > _ROUGH_M


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
    for rounded_m, apart_s in _APART_S:
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
    if time_s.size < 8:
        return plain
    east, north = unroll(lat_deg, lon_deg)
    place = east + 1j * north
    turn_dps = _turn_rate_dps(time_s, place, _TURNING_OVER_S)
    turning = turn_dps > _TURNING_DPS
    # A feed interpolates along parallels or great circles; on the map those bend by so much from row to row.
    middle = np.radians(min(float(np.median(np.abs(lat_deg))), 85.0))
    bend = np.tan(middle) / 6.37e6
    # Rounding's own sigma; along a parallel or a meridian no change from sample to sample shows it.
    rounding = place_step * float(np.sqrt((1.0 + np.cos(middle) ** 2) / 24.0))
    on_line = _on_line(time_s, place, turn_dps, place_step, bend)
    if not on_line.any():
        # Faster than twice a second, neighbours err alike: a clock's jitter is looked for over half a second at least.
        pick = slice(None, None, max(1, round(0.5 / max(interval, 1e-3))) if interval < 0.4 else 1)
        jitter, noise = _clock_and_place(time_s[pick], place[pick], rounding)
        plain = replace(plain, time_jitter_s=jitter, position_noise_m=noise)
        slips, shared, spaced = _slips(time_s, place, noise, interval)
        if not slipping or slips <= _SLIPS_OVER_JITTER * jitter:
            return plain
        if not shared:
            return replace(plain, time_jitter_s=slips)
        slips *= _SLIPS_SHARED
        return replace(plain, effective_s=_SLIPS_OVER_S, true_sample=spaced, time_jitter_s=slips, slips=True)
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
    in_turn = bent[:-1] & bent[1:] & (gaps <= _LONG_CHORD_S)
    effective = _usual_gap(gaps[in_turn] if in_turn.sum() >= 4 else gaps)
    # Rows well inside long chords: on a straight leg they are as good as samples, and hold the path down.
    after = np.clip(np.searchsorted(at, time_s), 1, at.size - 1)
    inside = np.minimum(time_s - at[after - 1], at[after] - time_s) >= _CHORD_ENDS_S
    anchors = inside & (gaps[after - 1] > max(_LONG_CHORD_S, _LONG_GAPS * effective))
    return replace(
        plain,
        effective_s=effective,
        true_sample=~on_line | anchors,
        corners=Corners(corner_s, corner_lat, corner_lon),
        time_jitter_s=max(jitter, float(np.hypot(rounded_s, 0.5 * _LATENCY_S))),
        position_noise_m=noise,
    )


def rounded_to_m(degrees: FloatArray, most: int = 8) -> float:
    """Return what latitudes or longitudes are rounded to, metres along a great circle; ``most`` decimals are tried."""
    return decimal_step(degrees, most) * 111_000.0


def decimal_step(values: FloatArray, most: int) -> float:
    """Return the decimal step, of so many digits at most, that nearly all values are multiples of; 0 for none."""
    for digits in range(most):
        scaled = values * 10.0**digits
        if float(np.mean(np.abs(scaled - np.round(scaled)) < 1e-3)) > 0.99:
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
    flying = np.minimum(np.abs(came), np.abs(goes)) > _FLYING_MPS * over
    gaps = np.diff(time_s)
    after = np.flatnonzero(gaps > 4.0 * max(over, float(np.median(gaps)))) + 1
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
    tolerance = _ON_LINE_M + place_step_m + 1.5 * bend * length**2
    across = np.abs((after * np.conj(before)).imag) / np.maximum(np.abs(before + after), 1e-9)
    sagitta = 0.5 * np.radians(turn_dps[1:-1]) * length * np.minimum(dt[:-1], dt[1:])
    telling = (turn_dps[1:-1] > _TURNING_DPS) & (sagitta > _SAGITTA * tolerance)
    straight = (across < tolerance) & ((after * np.conj(before)).real > 0.0)
    found = np.zeros(time_s.size, dtype=bool)
    if telling.sum() >= _LEAST_TURNING_ROWS and straight[telling].mean() >= _INTERPOLATED_SHARE:
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
    length = 1.2 * np.abs(cut)
    fine = (reach > 0.0) & (back > 0.0) & (reach * np.abs(came) < length) & (back * np.abs(goes) < length)
    i, reach, back = i[fine], reach[fine], back[fine]
    by_both = 0.5 * (time_s[i] + reach * dt[i - 1] + time_s[i + 1] - back * dt[i + 1])
    return i, np.clip(by_both, time_s[i] + 0.05 * dt[i], time_s[i + 1] - 0.05 * dt[i]), reach


def _slips(
    time_s: FloatArray, place: Places, noise_m: float, interval_s: float
) -> tuple[float, bool, BoolArray]:
    """Return a clock's sigma, 0 for none; whether its error stays for seconds; rows too far apart to share it.

    Neighbours share such an error, and their many would be taken for that many witnesses.
    """
    spaced = np.zeros(time_s.size, dtype=bool)
    if interval_s > 0.5 * _SLIPS_OVER_S:
        return 0.0, False, spaced
    beat = np.floor((time_s - time_s[0]) / _SLIPS_OVER_S)
    first = np.flatnonzero(np.diff(beat, prepend=-1.0))
    spaced[first] = True
    widest = _SLIPS_WIDEST_DEG
    slips, _ = _clock_and_place(time_s[spaced], place[spaced], noise_m, widest)
    speed = float(np.median(np.abs(np.diff(place)) / np.diff(time_s)))
    # The mean of rows that err each for itself is known far better than one of them.
    count = np.diff(np.append(first, time_s.size))
    at, mean = np.add.reduceat(time_s, first) / count, np.add.reduceat(place, first) / count
    left, _ = _clock_and_place(at, mean.astype(complex), noise_m, widest)
    least_m = max(_LEAST_SLIPS_M, _SLIPS_OVER_NOISE * noise_m)
    return slips if slips * speed > least_m else 0.0, left > _SLIPS_LEFT * slips, spaced


def _clock_and_place(
    time_s: FloatArray, place: Places, rounding_m: float, widest_deg: float = _WIDEST_DEG
) -> tuple[float, float]:
    """Return the sigmas of clock (seconds) and position (metres per axis), from neighbouring true samples."""
    if time_s.size < 12:
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
    use = (speed > _FLYING_MPS) & (turned < widest_deg) & (first + second < 4.0 * usual)
    if use.sum() < 10:
        return 0.0, rounding_m
    # Of three samples with errors of sigma s the middle one stands off the others' line by this many s.
    scale = np.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
    along = robust_sigma((off.real / scale)[use])
    straight = use & (turned < _STRAIGHT_DEG)
    # Places so wrong that a leg's samples seem to turn: those that happen to lie in line are no measure of it.
    calm = use & (_turn_rate_dps(time_s, place, _CALM_OVER_S)[1:-1] < _CALM_DPS)
    if calm.sum() >= _LEAST_STRAIGHT and (straight & calm).sum() < 0.5 * calm.sum():
        straight = calm
        along = robust_sigma((off.real / scale)[calm])
    if usual > _FINE_S and straight.sum() >= _LEAST_STRAIGHT:
        across = robust_sigma((off.imag / scale)[straight])
    elif usual > _COARSE_S:
        across = _NAVIGATION_M
    else:
        # A steady turn stands off its chord by the same from sample to sample; what changes is noise.
        bent = off.imag / np.maximum(first * second, 1e-9) * usual**2
        steady = use[:-1] & use[1:]
        changes = np.diff(bent)[steady]
        spread = robust_sigma if usual <= _FINE_S else _quiet_sigma
        across = spread(changes) / np.sqrt(5.0) if changes.size >= 8 else along
    across = max(rounding_m, min(across, along))
    flown = float(np.median(speed[use]))
    pilot = 0.5 * _ACCELERATION_MPS2 * usual**2
    clock = along**2 - across**2 - pilot**2
    least = max(_LEAST_ALONG_M, pilot, _LEAST_JITTER_S * flown)
    if along < _ALONG_OVER_ACROSS * across or clock < least**2:
        return 0.0, across
    return float(np.sqrt(clock)) / flown, across


def _quiet_sigma(values: FloatArray) -> float:
    """Return a sigma from the quietest quarter: half of a hold's coarse samples stand where a turn begins or ends."""
    return float(np.percentile(np.abs(values), 25.0)) / 0.3186


def robust_sigma(values: FloatArray) -> float:
    """Return a sigma about zero that a few wild values do not move, but a heavy tail does."""
    size = np.abs(values)
    return max(SIGMA_PER_MEDIAN * float(np.median(size)), float(np.percentile(size, 90.0)) / 1.645)
