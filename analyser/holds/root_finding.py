"""Where a function of one number is zero, given two places where its signs differ."""

from __future__ import annotations

from collections.abc import Callable


def root_between(function: Callable[[float], float], low: float, high: float, *, within: float) -> float:
    """Find a zero by the Illinois rule, every fourth step a halving so that no curve can hold it up.

    Parameters
    ----------
    function : callable
        Continuous; of different sign at the two ends. Where it is not, the end nearer zero is the answer.
    low, high : float
        The bracket.
    within : float
        Stop when the function is this near zero, or the bracket can shrink no more.

    References
    ----------
    Dowell & Jarratt, A modified regula falsi method, BIT 11, 1971 (from memory).
    """
    f_low, f_high = function(low), function(high)
    best = min((abs(f_low), low), (abs(f_high), high))
    step = 0
    while best[0] > within and f_low * f_high < 0.0:
        step += 1
        middle = high - f_high * (high - low) / (f_high - f_low)
        if step % 4 == 0 or middle in (low, high):
            middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        f_middle = function(middle)
        best = min(best, (abs(f_middle), middle))
        if f_middle * f_high < 0.0:
            low, f_low = high, f_high
        else:
            # The far end would stay for ever where the function bends one way: halve its weight.
            f_low *= 0.5
        high, f_high = middle, f_middle
    return best[1]
