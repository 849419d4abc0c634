"""Clocks that repeat, run backwards, leap or carry the wrong week: put in order, and said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyser.earth.constants import MPS_PER_KT
from analyser.logs.movement import offsets
from analyser.logs.raw import FloatArray, RawFlight
from analyser.logs.text import counted, listed
from analyser.logs.track import Notice, runs

#: 1,024 weeks: a receiver that loses count of them is so much behind.
ROLLOVER_S = 1024 * 7 * 86_400.0
#: A forward step longer than this with no distance to match is a leap of the clock and no hole, seconds.
_LEAP_S = 1200.0
#: A clock that steps back at more than this share of the samples, while the aircraft flies on, is no clock to sort by:
#: its times are averaged over so many samples to either side.
_SHAKES, _CALMED_OVER = 0.1, 30
#: A run of more wrong times than this is no slip but a clock set wrong.
_MOST_WRONG = 5
#: Where this share of the steps runs backward no time is wrong: the rows are in no order.
_MOST_BACKWARD = 0.15
#: The first civil satellite logs are younger than this: 1990-01-01.
_EARLIEST_S = 631_152_000.0


def order_clock(flight: RawFlight) -> RawFlight:
    """Bring samples into the order they were flown, with a clock that only runs forward.

    Times and positions are finite. Equal times stay: :func:`drop_duplicates` drops them.
    """
    if flight.samples < 2:
        return flight
    steps = flight.steps_s
    if float(steps.min()) >= 0.0:
        return _take_out_leaps(flight)
    if (steps < 0.0).mean() > _SHAKES and _shakes(flight, steps):
        flight = _calmed(flight)
        steps = flight.steps_s
    if 0.0 < (steps < 0.0).mean() < _MOST_BACKWARD:
        flight = _mend_wrong_times(flight, steps)
        steps = flight.steps_s
    if (steps < 0.0).any():
        flight = _straighten(flight, steps)
    return _take_out_leaps(flight)


def _usual(steps: FloatArray) -> float:
    return float(np.median(steps[steps > 0.0])) if (steps > 0.0).any() else 1.0


def _shakes(flight: RawFlight, steps: FloatArray) -> bool:
    """Tell whether a clock that often steps back goes forward all the same, and the aircraft with it."""
    in_order = flight.moved_m.sum() < flight.take(np.argsort(flight.time_s, kind="stable")).moved_m.sum()
    goes_on = (
        float(flight.time_s[-1] - flight.time_s[0])
        > 0.5 * float(np.percentile(np.abs(steps), 99.0)) * _CALMED_OVER
    )
    return bool(in_order and goes_on and _flies_on(flight, steps, steps < 0.0, _usual(steps)))


def _calmed(flight: RawFlight) -> RawFlight:
    """Write an even beat in place of times that shake by more than the samples lie apart: rows come in their order.

    Sorted, they would shuffle the flight; re-based at each step back, they would stretch it.
    """
    count, half = flight.samples, min(_CALMED_OVER, flight.samples // 4)
    row = np.arange(count)
    beat = float(np.median(flight.time_s[count // 2 :] - flight.time_s[: count - count // 2])) / (count // 2)
    off = flight.time_s - beat * row
    middles = np.median(
        np.lib.stride_tricks.sliding_window_view(np.pad(off, half, mode="reflect"), 2 * half + 1), axis=1
    )
    # What a single wrong time is off by is not averaged in.
    spread = 1.4826 * float(np.median(np.abs(off - middles)))
    sound = np.clip(off, middles - 3.0 * spread, middles + 3.0 * spread)
    window = np.ones(2 * half + 1) / (2 * half + 1)
    calm = np.convolve(np.pad(sound, half, mode="reflect"), window, mode="valid")
    time_s = np.maximum.accumulate(beat * row + calm)
    back = int((flight.steps_s < 0.0).sum())
    message = (
        f"The clock runs back at {counted(back, 'sample', 'samples')} while the aircraft flies on: its times shake by "
        f"about {spread:.1f} s. The samples were kept in their order and the times averaged over {2 * half + 1}."
    )
    return flight.saying("time-shaken", message, time_s=time_s)


def _mend_wrong_times(flight: RawFlight, steps: FloatArray) -> RawFlight:
    """Put a few samples between their neighbours that lie there and whose times do not.

    A wrong time shows where the clock steps back: the samples before and after a short run follow one another, and so
    do all their places, but the times inside lie elsewhere. A sample that was only written late lies elsewhere itself.
    """
    forward = steps > 0.0
    if not forward.any():
        return flight
    usual = float(np.median(steps[forward]))
    distance = flight.moved_m
    speed = float(np.percentile(distance[forward] / steps[forward], 75))
    time_s = flight.time_s.copy()
    wrong = np.zeros(time_s.size, dtype=bool)
    order = np.argsort(flight.time_s, kind="stable")
    for back in np.flatnonzero(steps < 0.0).tolist():
        run = _wrong_run(time_s, distance, back, usual, 4.0 * speed * usual + 50.0)
        if run is not None and not _flown_then(flight, order, *run):
            first, last = run
            time_s[first : last + 1] = np.interp(
                np.arange(first, last + 1), [first - 1, last + 1], time_s[[first - 1, last + 1]]
            )
            wrong[first : last + 1] = True
    if not wrong.any():
        return flight
    off_s = float(np.abs(time_s - flight.time_s)[wrong].max())
    message = (
        f"{counted(int(wrong.sum()), 'sample carries a time', 'samples carry times')} off the neighbours', by up to "
        f"{off_s:,.0f} s ({_named(wrong)}); put between them."
    )
    return flight.saying("time-spike", message, time_s=time_s)


def _wrong_run(
    time_s: FloatArray, distance: FloatArray, back: int, usual_s: float, near_m: float
) -> tuple[int, int] | None:
    """Find the shortest run of wrong times at a step back: those that end before it, or those that begin after it."""
    for count in range(1, _MOST_WRONG + 1):
        for first in (back - count + 1, back + 1):
            last = first + count - 1
            if first < 1 or last > time_s.size - 2:
                continue
            before, after = time_s[first - 1], time_s[last + 1]
            inside = time_s[first : last + 1]
            fits = 0.0 < after - before <= 2.5 * (count + 1) * usual_s + 1.0
            out = (inside > after + usual_s).all() or (inside < before - usual_s).all()
            if fits and out and (distance[first - 1 : last + 1] <= near_m).all():
                return first, last
    return None


def _flown_then(flight: RawFlight, order: NDArray[np.intp], first: int, last: int) -> bool:
    """Tell whether a run of samples lies where the aircraft was at their times: they are right, only written late."""
    place = int(np.searchsorted(flight.time_s[order], flight.time_s[first]))
    near = order[max(0, place - 10) : place + 10]
    near = near[(near < first) | (near > last)]
    rows = np.arange(first, last + 1)
    if near.size < 2 or (flight.time_s[rows] > flight.time_s[near[-1]]).any():
        return False
    away = [
        np.hypot(
            *offsets(
                np.interp(at, known, flight.lat_deg[places]),
                np.interp(at, known, flight.lon_deg[places]),
                flight.lat_deg[rows],
                flight.lon_deg[rows],
            )
        ).max()
        for at, known, places in (
            (flight.time_s[rows], flight.time_s[near], near),
            (rows, np.array([first - 1, last + 1]), np.array([first - 1, last + 1])),
        )
    ]
    return bool(away[0] < 0.5 * away[1])


def _named(which: NDArray[np.bool_]) -> str:
    """Name runs of samples: "sample 14", "samples 14 to 20, 31"."""
    said = listed([f"{a + 1} to {b}" if b > a + 1 else f"{b}" for a, b in runs(which)])
    return f"{'sample' if int(which.sum()) == 1 else 'samples'} {said}"


def _straighten(flight: RawFlight, steps: FloatArray) -> RawFlight:
    """Choose between sorting and re-basing: the aircraft flew the order in which it moved least.

    Sorting is right for samples written late; for a clock set back in flight it would shuffle two stretches
    into one another, and the path shows it: in file order the aircraft flies on over the step without a jump.
    """
    backward = steps < 0.0
    usual = _usual(steps)
    order = np.argsort(flight.time_s, kind="stable")
    by_clock = flight.take(order)
    if by_clock.moved_m.sum() <= flight.moved_m.sum() or not _flies_on(flight, steps, backward, usual):
        after = np.concatenate([[False], backward])
        message = (
            f"{counted(int(backward.sum()), 'time runs', 'times run')} backwards ({_named(after)}); "
            "the samples were sorted by time."
        )
        return by_clock.saying("time-backward", message)
    rebased = _rebase(flight, backward, usual)
    often = "once" if backward.sum() == 1 else f"{int(backward.sum())} times"
    message = (
        f"The clock was set back {often} while the aircraft flew on, at {_named(np.concatenate([[False], backward]))}; "
        "the times of the samples before were moved back to meet it, from the distance flown."
    )
    return rebased.saying("time-set-back", message)


def _flies_on(flight: RawFlight, steps: FloatArray, backward: NDArray[np.bool_], usual_s: float) -> bool:
    """Tell whether the backward steps cover no more ground than a few intervals of flight."""
    distance = flight.moved_m
    forward = ~backward & (steps > 0.0)
    if not forward.any():
        return False
    speed = float(np.percentile(distance[forward] / steps[forward], 75))
    return bool(np.median(distance[backward]) <= 5.0 * speed * usual_s + 50.0)


def _rebase(flight: RawFlight, leaps: NDArray[np.bool_], usual_s: float) -> RawFlight:
    """Replace the steps at leaps by the time the distance takes at the speed before, at least one interval."""
    steps = flight.steps_s
    distance = flight.moved_m
    sound = ~leaps & (steps > 0.0)
    speed = float(np.median(distance[sound] / steps[sound])) if sound.any() else 0.0
    took = np.where(distance > 2.0 * speed * usual_s, distance / max(speed, 1.0), usual_s)
    steps = np.where(leaps, took, steps)
    time_s = flight.time_s[0] + np.concatenate([[0.0], np.cumsum(steps)])
    # The end of the log is taken for right: receivers start with a wrong clock and mend it.
    return replace(flight, time_s=time_s + (flight.time_s[-1] - time_s[-1]))


def _take_out_leaps(flight: RawFlight) -> RawFlight:
    """Take out long steps forward over no more distance than one interval's flight: the clock leapt, no hole."""
    steps = flight.steps_s
    long = steps > _LEAP_S
    if not long.any():
        return flight
    usual = float(np.median(steps[steps > 0.0]))
    distance = flight.moved_m
    places = np.flatnonzero(long)
    around = np.array([_speed_near(place, distance, steps) for place in places.tolist()])
    flown = distance[places]
    leaps = np.zeros(steps.size, dtype=bool)
    moving = around > 25.0 * MPS_PER_KT
    leaps[places] = moving & (flown > 0.3 * around * usual) & (flown < 4.0 * around * usual)
    if not leaps.any():
        return flight
    total = float(steps[leaps].sum())
    weeks = ", as a receiver does that has lost 1,024 weeks," if abs(total - ROLLOVER_S) < 86_400.0 else ""
    message = f"The clock leapt forward by {total:,.0f} s{weeks} without a hole in the flight; the leap was taken out."
    return _rebase(flight, leaps, usual).saying("time-leap", message)


def _speed_near(place: int, distance: FloatArray, steps: FloatArray) -> float:
    """Return the median speed over a few steps either side, m/s."""
    near = np.r_[max(0, place - 8) : place, place + 1 : min(steps.size, place + 9)]
    near = near[(steps[near] > 0.0) & (steps[near] < 60.0)]
    return float(np.median(distance[near] / steps[near])) if near.size else 0.0


def drop_duplicates(flight: RawFlight) -> RawFlight:
    """Keep the first of samples that carry the same time; times increase or are equal."""
    if flight.samples < 2:
        return flight
    new = np.concatenate([[True], flight.steps_s > 0.0])
    if new.all():
        return flight
    same = np.concatenate([[False], flight.repeats])
    total, moved = int((~new).sum()), int((~new & ~same).sum())
    if moved > 0.5 * flight.samples:
        said = counted(moved, "sample repeats the time before it", "samples repeat the time before them")
        code = "time-coarse"
        message = f"The clock is coarser than the sampling: {said}; the first of each time was kept."
    else:
        code, said = "time-duplicate", counted(total, "sample repeats", "samples repeat")
        message = f"{said} a time already there; the first of each was kept."
    return flight.take(new).saying(code, message)


def doubtful_date(start_s: float, now_s: float) -> Notice | None:
    """Say when a log's date cannot be right, or looks 1,024 weeks behind; both times are POSIX seconds.

    A date with ``"date-impossible"`` must not be used.
    """
    if start_s < _EARLIEST_S or start_s > now_s + 2 * 86_400.0:
        return Notice("date-impossible", "The log's date lies before 1990 or in the future; it was not used.")
    behind = start_s + ROLLOVER_S
    if now_s - 3 * 365 * 86_400.0 < behind < now_s + 86_400.0:
        return Notice(
            "date-old",
            "The date is about 1,024 weeks ago: receivers that have lost count of the weeks write that. "
            "It is used as it stands.",
        )
    return None
