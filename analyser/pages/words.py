"""How quantities are written on every page: in words, and as HTML where the reader may turn them, magnetic or true."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from analyser.earth.angles import whole_direction
from analyser.earth.constants import METRES_PER_FOOT

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenNumber

#: Said where the log cannot tell; never 0.
NOT_JUDGED = "not judged"
_BOTH = Markup('<span class="when-mag">{}</span><span class="when-tru">{}</span>')


def direction(true_deg: float, variation_deg: float | None) -> tuple[str, str]:
    """Write a direction, degrees true, in both references: ``"263°M"``, ``"267°T"``; north is 360, as it is spoken.

    Without a variation (east positive) both texts are true.
    """
    true = f"{_three(true_deg)}°T"
    return (true if variation_deg is None else f"{_three(true_deg - variation_deg)}°M"), true


def in_both(texts: tuple[str, str], kind: str) -> list[tuple[str, str]]:
    """Pair a direction's magnetic and true text with the ``kind`` of lettering, of which the page shows one."""
    return [(texts[0], f"{kind} when-mag"), (texts[1], f"{kind} when-tru")]


def _three(degrees: float) -> str:
    return f"{whole_direction(degrees):03d}"


def number(value: float, decimals: int = 0, *, signed: bool = False) -> str:
    """Write a number with a real minus sign and without a negative nought; ``signed``: with a plus too."""
    rounded = round(value, decimals)
    if rounded == 0:
        return f"{0:.{decimals}f}"
    sign = "−" if rounded < 0 else "+" if signed else ""
    return f"{sign}{abs(rounded):,.{decimals}f}"


def points_or_not(points: float | None) -> str:
    """Say the points of what may not have been judged: ``"58 points"``."""
    return NOT_JUDGED if points is None else f"{number(points)} points"


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
    """Return a round step (1, 2 or 5 times a power of ten) that cuts a length into at most ``most`` parts."""
    rough = length / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= rough * (1 - 1e-9))


def heading(true_deg: float | None, variation_deg: float | None) -> Markup:
    """Mark up a direction, degrees true, in both references; the page shows one of them."""
    if true_deg is None:
        return missing()
    magnetic, true = direction(true_deg, variation_deg)
    if magnetic == true:
        return Markup("<span>{}</span>").format(true)
    return _BOTH.format(magnetic, true)


def feet(value_ft: float | None, *, signed: bool = False) -> Markup:
    """Mark up a height, or ``signed`` a difference, in feet and in metres."""
    if value_ft is None:
        return missing()
    foot, metres = number(value_ft, signed=signed), number(value_ft * METRES_PER_FOOT, signed=signed)
    return Markup(f'<span class="when-ft">{foot} ft</span><span class="when-m">{metres} m</span>')


def quantity(value: float | None, unit: str, decimals: int = 0, *, signed: bool = False) -> Markup:
    """Mark up a number with its unit; feet become turnable."""
    if value is None:
        return missing()
    if unit == "ft":
        return feet(value, signed=signed)
    space = "" if unit in ("°", "%", "") else " "
    return Markup(f"{number(value, decimals, signed=signed)}{space}{escape(unit)}")


def measured(found: WrittenNumber | None, variation_deg: float | None) -> Markup:
    """Mark up a number of the debrief file with its unit, a direction in both references."""
    if found is None:
        return missing("none")
    if found.reference == "true":
        return heading(found.value, variation_deg)
    return quantity(found.value, found.unit, 2 if found.unit == "NM" else 0)


def turnable(text: str, variation_deg: float | None, exact_true_deg: Iterable[float] = ()) -> Markup:
    """Mark up a sentence whose magnetic directions the page may turn into true ones, and feet into metres.

    It has directions as ``"312°M"`` and heights as ``"4,000 ft"``; ``exact_true_deg`` are the directions that it
    speaks of, so that a true one is rounded only once.
    """
    exact = {direction(true, variation_deg)[0]: true for true in exact_true_deg}
    parts = re.split(r"(\d{3}°M|\b\d[\d,]* ft\b)", text)
    return Markup("").join(
        _turned(part, exact, variation_deg) if k % 2 else escape(part) for k, part in enumerate(parts)
    )


def _turned(found: str, exact: dict[str, float], variation_deg: float | None) -> Markup:
    if found.endswith(" ft"):
        return feet(float(found.removesuffix(" ft").replace(",", "")))
    return _both(found, exact, variation_deg) if variation_deg is not None else escape(found)


def _both(magnetic: str, exact: dict[str, float], variation_deg: float) -> Markup:
    true_deg = exact.get(magnetic, float(magnetic[:3]) + variation_deg)
    return _BOTH.format(magnetic, direction(true_deg, variation_deg)[1])


def missing(words: str = NOT_JUDGED) -> Markup:
    """Mark up what could not be told from the log, so that it looks like nothing else."""
    return Markup('<span class="nj">{}</span>').format(escape(words))
