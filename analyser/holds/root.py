"""Where a function of one number is zero, given two places where its signs differ."""

from __future__ import annotations

from collections.abc import Callable


def root_between(function: Callable[[float], float], low: float, high: float, *, within: float) -> float:
    """Find a zero by the Illinois rule: the secant, kept within its bracket and from creeping.

    Parameters
    ----------
    function : callable
        Continuous; of different sign at the two ends (or zero at one of them).
    low, high : float
        The bracket.
    within : float
        Stop when the function is this near zero, or the bracket no longer shrinks.

    Returns
    -------
    float

    References
    ----------
    Dowell & Jarratt, A modified regula falsi method, BIT 11, 1971 (from memory).
    """
    f_low, f_high = function(low), function(high)
    if abs(f_low) <= within:
        return low
    for _ in range(100):
        if abs(f_high) <= within or high == low:
            break
        middle = high - f_high * (high - low) / (f_high - f_low)
        if middle in (low, high):
            break
        f_middle = function(middle)
        if f_middle * f_high < 0.0:
            low, f_low = high, f_high
        else:
            # The far end would stay for ever where the function bends one way: halve its weight.
            f_low *= 0.5
        high, f_high = middle, f_middle
    return high
