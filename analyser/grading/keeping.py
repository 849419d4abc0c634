"""Keeping altitude and speed over the whole hold: each time the tolerance was left, how far, and how long."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.motion.motion import running_mean

FloatArray = NDArray[np.float64]

#: A needle is read over a few seconds; a single gust or reading is not the pilot's.
READ_OVER_S = 5


@dataclass(frozen=True)
class Excursion:
    """One time that the tolerance was left.

    Attributes
    ----------
    start_s, end_s : float
        Outside the tolerance, seconds from the log's first sample.
    worst : float
        The largest error, signed, as read over a few seconds.
    reference : float
        What was to be held there.
    errors_in_tolerances : tuple of float
        Size of the error at each sample, in tolerances.
    step_s : float
        Between samples.
    circuits : tuple of int
        Numbers of the circuits it touched; empty for the entry.
    came_back : bool
        False where the hold ended first.
    """

    start_s: float
    end_s: float
    worst: float
    worst_s: float
    reference: float
    errors_in_tolerances: tuple[float, ...]
    step_s: float
    circuits: tuple[int, ...]
    came_back: bool

    @property
    def duration_s(self) -> float:
        """Seconds outside: the time to come back."""
        return self.end_s - self.start_s

    def far_s(self, tolerances: float) -> float:
        """Return for how long on end the error was beyond so many tolerances, seconds."""
        far = runs(np.array(self.errors_in_tolerances) > tolerances)
        return self.step_s * max((last - first for first, last in far), default=0)


@dataclass(frozen=True)
class Keeping:
    """How a quantity was kept over a hold.

    Attributes
    ----------
    excursions : tuple of Excursion
        In order of time.
    steady_off : float or None
        The median error, where the quantity was off by the same amount all along: more than the tolerance, never
        farther than the tolerance from that median, and without climbing or sinking.
    given : bool
        Whether what was to be held was given, or taken from the flight.
    held_share : float
        Share of the hold flown within the tolerance of it.
    """

    excursions: tuple[Excursion, ...]
    tolerance: float
    sd: float
    steady_off: float | None
    given: bool
    held_share: float = 1.0


def keeping(
    flown: FlownHold, value: FloatArray, reference: FloatArray, *, tolerance: float, sd: float, given: bool
) -> Keeping | None:
    """Follow a quantity over the whole hold.

    Parameters
    ----------
    value, reference : (n,) float array
        On the motion's time grid; NaN where not known, or where nothing was to be held.
    tolerance, sd : float
        Plus or minus, and sigma of the value.

    Returns
    -------
    Keeping or None
        None where nothing is known.
    """
    inside = flown.motion.span(flown.start_s, flown.end_s)
    time_s, held = flown.motion.time_s[inside], reference[inside]
    error = read(value[inside] - held)
    error[flown.motion.in_hole[inside]] = np.nan
    known = np.isfinite(error)
    if known.sum() < 2:
        return None
    off = known & (np.abs(np.nan_to_num(error)) > tolerance)
    found = excursions(flown.circuits, time_s, error, held, tolerance)
    middle = float(np.median(error[known]))
    steady = abs(middle) > tolerance and _is_steady(error[known], tolerance)
    held_share = float(np.mean(known & ~off))
    return Keeping(found, tolerance, sd, middle if steady else None, given, held_share)


def excursions(
    circuits: Sequence[Circuit],
    time_s: FloatArray,
    error: FloatArray,
    held: FloatArray,
    tolerance: float | FloatArray,
) -> tuple[Excursion, ...]:
    """Find each time that a quantity left its tolerance.

    Parameters
    ----------
    circuits : sequence of Circuit
        That may have been touched.
    time_s, error, held : (n,) float array
        Error as read over a few seconds, NaN where not known, and what was to be held.
    tolerance : float or (n,) float array
        Plus or minus.
    """
    multiple = np.abs(np.nan_to_num(error)) / tolerance
    return tuple(_excursion(circuits, time_s, error, held, multiple, one) for one in runs(multiple > 1.0))


def _is_steady(error: FloatArray, tolerance: float) -> bool:
    """Return whether errors stay within the tolerance of their median, and neither climb nor sink."""
    third = max(error.size // 3, 1)
    drift = float(np.median(error[-third:]) - np.median(error[:third]))
    return float(np.max(np.abs(error - np.median(error)))) <= tolerance and abs(drift) <= 0.5 * tolerance


def _excursion(
    circuits: Sequence[Circuit],
    time_s: FloatArray,
    error: FloatArray,
    held: FloatArray,
    multiple: FloatArray,
    run: tuple[int, int],
) -> Excursion:
    """Describe one run of samples outside; a run of one sample lasts until the next."""
    first, last = run
    worst = first + int(np.argmax(multiple[first:last]))
    end = min(last, time_s.size - 1)
    start_s, end_s = float(time_s[first]), float(time_s[end])
    step_s = float(np.median(np.diff(time_s)))
    touched = tuple(c.number for c in circuits if c.start_s < end_s and c.end_s > start_s)
    return Excursion(
        start_s,
        end_s,
        float(error[worst]),
        float(time_s[worst]),
        float(held[worst]),
        tuple(multiple[first:last]),
        step_s,
        touched,
        last < time_s.size - 1,
    )


def read(series: FloatArray) -> FloatArray:
    """Average over a few seconds about each sample, as an eye reads a needle; NaN stays NaN."""
    return running_mean(series, READ_OVER_S)


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the half-open index ranges over which a mask is True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
