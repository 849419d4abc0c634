"""Numbers as the trade writes them."""

from __future__ import annotations

import math

from analyser.earth.angles import whole_direction

#: Said where the log cannot tell; never 0.
NOT_JUDGED = "not judged"
#: Metres in a foot, exact by definition (international foot).


def direction(true_deg: float, variation_deg: float | None) -> tuple[str, str]:
    """Write a direction in both references.

    Parameters
    ----------
    true_deg : float
        Degrees true.
    variation_deg : float or None
        East positive; None where it is not known, then both texts are true.

    Returns
    -------
    magnetic, true : str
        ``"263°M"``, ``"267°T"``; north is 360, as it is spoken.
    """
    true = f"{_three(true_deg)}°T"
    return (true if variation_deg is None else f"{_three(true_deg - variation_deg)}°M"), true


def _three(degrees: float) -> str:
    return f"{whole_direction(degrees):03d}"


def number(value: float, decimals: int = 0, *, signed: bool = False) -> str:
    """Write a number with a real minus sign and without a negative nought.

    Parameters
    ----------
    value : float
    decimals : int
    signed : bool
        True puts a plus before what is positive.
    """
    rounded = round(value, decimals)
    if rounded == 0:
        return f"{0:.{decimals}f}"
    sign = "−" if rounded < 0 else "+" if signed else ""
    return f"{sign}{abs(rounded):,.{decimals}f}"


def points_words(points: float, asked: float) -> str:
    """Write points whole, but so that those which fall short of what is asked do not read as if they did not."""
    short_by_little = points < asked <= round(points)
    return f"just under {number(asked)}" if short_by_little else number(points)


def clock(seconds: float) -> str:
    """Write a time span as minutes and seconds: ``"4:07"``, ``"1:02:30"``."""
    whole = round(seconds)
    hours, rest = divmod(abs(whole), 3600)
    text = f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
    return f"−{text}" if whole < 0 else text


def latitude(degrees: float) -> str:
    """Write a latitude in degrees and decimal minutes: ``"47°30.25′ N"``."""
    return f"{_minutes(degrees, 2)} {'S' if degrees < 0 else 'N'}"


def longitude(degrees: float) -> str:
    """Write a longitude in degrees and decimal minutes: ``"008°05.10′ E"``."""
    return f"{_minutes(degrees, 3)} {'W' if degrees < 0 else 'E'}"


def _minutes(degrees: float, width: int) -> str:
    hundredths = round(abs(degrees) * 6000)
    return f"{hundredths // 6000:0{width}d}°{hundredths % 6000 / 100:05.2f}′"


def nice_step(length: float, most: int) -> float:
    """Return a round step that cuts a length into at most ``most`` parts.

    Parameters
    ----------
    length : float
        Greater than 0.
    most : int

    Returns
    -------
    float
        1, 2 or 5 times a power of ten.
    """
    rough = length / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= rough * (1 - 1e-9))
