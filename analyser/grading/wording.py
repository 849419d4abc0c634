"""How numbers and counts are written in sentences, and a sentence that carries the number to fly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from analyser.earth.angles import whole_direction, wrap180
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import FINDING
from analyser.holds.exact import ExactCircuit

_COUNTS = [
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
]

#: Share of what was needed → words; the nearest is said.
_SHARES = (
    (0.0, "next to none of"),
    (0.25, "a quarter of"),
    (1.0 / 3.0, "a third of"),
    (0.5, "half of"),
    (2.0 / 3.0, "two thirds of"),
    (0.75, "three quarters of"),
    (1.0, "about all of"),
    (1.5, "half as much again as"),
    (2.0, "twice"),
    (3.0, "three times"),
)


@dataclass(frozen=True)
class Number:
    """A number with what it takes to show it."""

    value: float
    #: ``"°"``, ``"s"``, ``"NM"``, ``"kt"``, ``"ft"``.
    unit: str
    #: ``"true"`` for a direction, which a page may show magnetic; None for everything else.
    reference: Literal["true"] | None = None

    def said(self, variation_deg: float | None = None) -> str:
        """Write the number, a direction magnetic where the variation (east positive) is known.

        ``"105°M"``, ``"097°T"``, ``"18°"``, ``"52 s"``, ``"0.21 NM"``, ``"4,000 ft"``.
        """
        if self.reference == "true":
            shown = self.value - (variation_deg or 0.0)
            letter = "T" if variation_deg is None else "M"
            return f"{whole_direction(shown):03d}°{letter}"
        if self.unit == "NM":
            # A distance read-out shows tenths; what is shorter than a leg is known better.
            return f"{self.value:.{1 if abs(self.value) >= FINDING.read_out_nm else 2}f} NM"
        if self.unit == "ft":
            return f"{self.value:,.0f} ft"
        space = "" if self.unit == "°" else " "
        return f"{self.value:.0f}{space}{self.unit}"


def count(number: int, thing: str) -> str:
    """Write a count with its noun in the singular: ``"three circuits"``."""
    word = _COUNTS[number] if number < len(_COUNTS) else str(number)
    return f"{word} {thing}" + ("" if number == 1 else "s")


def listed(words: Sequence[str]) -> str:
    """Write a list: ``"timing, bank and track"``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def on_circuits(numbers: Sequence[int]) -> str:
    """Say on which circuits: ``" on circuit 2"``, ``" on circuits 1 and 3"``; empty where on none."""
    if not numbers:
        return ""
    if len(numbers) == 1:
        return f" on circuit {numbers[0]}"
    return f" on circuits {listed([str(number) for number in numbers])}"


def up_to(circuits: Sequence[object]) -> str:
    """Say that a number is the worst of several circuits: ``"up to "``; empty where it is the only one."""
    return "up to " if len(circuits) > 1 else ""


def clock_words(seconds: float) -> str:
    """Say how long: ``"45 s"``, ``"3 min 20 s"``."""
    whole = max(round(seconds), 1)
    if whole < 120:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    return f"{minutes} min" + (f" {rest} s" if rest else "")


def said_apart_deg(right_deg: float, flown_deg: float, variation_deg: float | None) -> int:
    """Return how far one direction lies right of another as both are said: the difference of the rounded ones."""
    right, flown = (whole_direction(one - (variation_deg or 0.0)) for one in (right_deg, flown_deg))
    return int(wrap180(right - flown))


def from_wings_level(exact: ExactCircuit) -> str:
    """Say an outbound time by the other clock where it is another one: ``" (the same as 61 s from wings level)"``."""
    return "" if exact.level_time_s is None else f" (the same as {exact.level_time_s:.0f} s from wings level)"


def share_of(share: float) -> str:
    """Write a share of what was needed: ``"a third of"``."""
    return min(_SHARES, key=lambda one: abs(one[0] - share))[1]


def at_least(value: float) -> str:
    """Write a positive value in two figures, rounded up, so that it is never said to be less than it is: ``"5.1"``."""
    step = 10.0 ** min(math.floor(math.log10(value)) - 1, 0)
    return f"{math.ceil(value / step - 1e-9) * step:.{max(-round(math.log10(step)), 0)}f}"


def with_article(words: str) -> str:
    """Put "a" or "an" before words."""
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    return text[:1].upper() + text[1:].rstrip(". ") + "."


@dataclass(frozen=True)
class Advice:
    """One piece of advice: words with ``{fly}`` and ``{flown}`` where the numbers belong."""

    words: str
    fly: Number
    flown: Number

    def said(self, variation_deg: float | None = None) -> str:
        """Write the advice, its directions magnetic where the variation is known."""
        return self.words.format(fly=self.fly.said(variation_deg), flown=self.flown.said(variation_deg))
