"""One thing that is said about a hold. Data only; verdict, advice, caps and the JSON are read from a list of these."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["unsafe", "below standard", "improve", "good"]

#: Worst first: the order in which findings are said.
SEVERITIES: tuple[Severity, ...] = ("unsafe", "below standard", "improve", "good")


@dataclass(frozen=True)
class Finding:
    """One finding.

    Attributes
    ----------
    kind : str
        What was found, as a word for programs: ``"level"``, ``"outbound_heading"``, ``"entry"``.
    circuits : tuple of int
        Numbers of the circuits it was found on; empty where it is about the entry or the whole hold.
    value, target, tolerance, sd : float or None
        What was flown, what should have been, plus or minus, and sigma of their difference; None where there
        is no such number.
    unit : str
        Of all these; empty where there are none.
    sentence : str
        What is said, with its numbers, for a pilot.
    cost_points : float
        Points of the hold that it cost, by the weights of items and circuits; 0 where none are given for it.
    item : str
        The graded item it belongs to, as in :data:`analyser.rules.scoring.ITEMS`, or ``"entry"``,
        ``"leaving"``; empty where it belongs to none.
    advice : str
        What to do next time; empty where nothing is advised.
    brief : str
        The same in a few words, to stand beside capped points: ``"500 ft low on circuit 2"``.
    outside : bool
        Whether something that is graded lay outside its tolerance.
    directions_true_deg : tuple of float
        The directions that sentence and advice speak of, so that a page can show them magnetic or true.
    """

    kind: str
    severity: Severity
    circuits: tuple[int, ...]
    value: float | None
    target: float | None
    tolerance: float | None
    sd: float | None
    unit: str
    sentence: str
    cost_points: float = 0.0
    item: str = ""
    advice: str = ""
    brief: str = ""
    outside: bool = False
    directions_true_deg: tuple[float, ...] = ()


@dataclass(frozen=True)
class Capped:
    """Points or grade held down by a finding.

    Attributes
    ----------
    points_without : float
        What the points would have been.
    at : float
        What they were held down to.
    why : str
        The finding in a few words.
    kind : str
        The finding's kind.
    """

    points_without: float
    at: float
    why: str
    kind: str

    @property
    def sentence(self) -> str:
        """Say it: ``"capped at 59: 500 ft low on circuit 2 (94 without)"``."""
        return f"capped at {self.at:.0f}: {self.why} ({self.points_without:.0f} without)"


#: Said before others of the same severity, in this order: the worst danger, then what brings other faults about.
_FIRST = (
    "minimum level",
    "wrong side",
    "entry way",
    "holding area",
    "level",
    "speed limit",
    "long outbound leg",
    "limiting radial",
    "speed",
    "late turn",
    "entry",
)
#: What comes of other faults, and what was made of them: said after them.
_AFTER = ("track", "learning")


def ranked(findings: list[Finding]) -> tuple[Finding, ...]:
    """Order findings, worst first; of one severity causes first, what lay outside its tolerance, the more costly."""

    def place(one: Finding) -> tuple[int, int, bool, float]:
        order = _FIRST.index(one.kind) if one.kind in _FIRST else len(_FIRST)
        order += _AFTER.index(one.kind) + 1 if one.kind in _AFTER else 0
        return SEVERITIES.index(one.severity), order, not one.outside, -one.cost_points

    return tuple(sorted(findings, key=place))
