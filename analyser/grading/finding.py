"""One thing that is said about a hold, the order of such things, and the verdict that is written from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from analyser.frozen import dataclass
from analyser.grading.replay import DECISIONS
from analyser.grading.wording import count, sentence

Severity = Literal["unsafe", "below standard", "improve", "good"]

#: Worst first: the order in which findings are said.
SEVERITIES: tuple[Severity, ...] = ("unsafe", "below standard", "improve", "good")


class Told(NamedTuple):
    """What to do next time, empty where nothing is advised, and the true directions that it speaks of."""

    advice: str = ""
    directions_true_deg: tuple[float, ...] = ()


@dataclass(frozen=True)
class Finding:
    """One finding."""

    #: What was found, as a word for programs: ``"level"``, ``"outbound_heading"``, ``"entry"``.
    kind: str
    severity: Severity
    #: Numbers of the circuits it was found on; empty where it is about the entry or the whole hold.
    circuits: tuple[int, ...]
    #: What is said, with its numbers, for a pilot.
    sentence: str
    #: What was flown, what should have been, plus or minus, and sigma of their difference; None where there is no such
    #: number.
    value: float | None = None
    target: float | None = None
    tolerance: float | None = None
    sd: float | None = None
    #: Of all these; empty where there are none.
    unit: str = ""
    #: What to do next time; empty where nothing is advised.
    advice: str = ""
    #: The directions that sentence and advice speak of, so that a page can show them magnetic or true.
    directions_true_deg: tuple[float, ...] = ()
    #: Points of the hold that it cost, by the weights of items and circuits; 0 where none are given for it.
    cost_points: float = 0.0
    #: The graded item it belongs to, as in :data:`analyser.rules.scoring.ITEMS`, or ``"entry"``, ``"leaving"``; empty
    #: where it belongs to none.
    item: str = ""
    #: The same in a few words, to stand beside capped points: ``"500 ft low on circuit 2"``.
    brief: str = ""
    #: Whether something that is graded lay outside its tolerance.
    outside: bool = False


@dataclass(frozen=True)
class Capped:
    """Points that would have been more, held down by a finding."""

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
    "steep bank",
    "speed limit",
    "long outbound leg",
    "long entry leg",
    "no outbound leg",
    "inbound way",
    "both hands",
    "limiting radial",
    "speed",
    "late turn",
    "early turn",
    "entry",
    "leaving",
    "left to the other side",
)
#: What may have been unsafe: said before all that is below standard, though nothing is held against the pilot for it.
PERHAPS_UNSAFE = ("holding area", "level left")
#: Said between what was unsafe and what is below standard: where little was seen, or the fix may be another than the
#: file's, that stands before its faults.
_BEFORE_BELOW_STANDARD = dict.fromkeys(PERHAPS_UNSAFE, 0.4) | {"fix elsewhere": 0.5, "not judged": 0.6}
#: What comes of other faults, and what was made of them: said after them.
_AFTER = ("fix passage", "track", "learning")


def ranked(findings: list[Finding], causes: Sequence[str] = ()) -> tuple[Finding, ...]:
    """Order findings, worst first; of one severity causes first, what lay outside its tolerance, the more costly.

    What may have been unsafe comes next after what was.

    ``causes`` are kinds that usually come of other faults, and this time bring others about.
    """

    def place(one: Finding) -> tuple[float, int, bool, float]:
        worse = _BEFORE_BELOW_STANDARD.get(one.kind, math.inf)
        order = _FIRST.index(one.kind) if one.kind in _FIRST else len(_FIRST)
        if one.kind in causes:
            order -= 1
        elif one.kind in _AFTER:
            order += _AFTER.index(one.kind) + 1
        return min(SEVERITIES.index(one.severity), worse), order, not one.outside, -one.cost_points

    return tuple(sorted(findings, key=place))


#: What may have been dangerous, and that nothing could be judged, is said before all else that is no sure fault.
_CAUTIONS = (*PERHAPS_UNSAFE, "area speed", "fix elsewhere", "not judged", "leg unknown")
#: What was right and belongs with the first sentences.
_ABOVE = ("entry", "within", "level change")
#: What was learned, how the hold was left, and what cannot be said: the rest.
_BELOW = ("learning", "leaving", "left to the other side", "no budget", "hole")


@dataclass(frozen=True)
class Said:
    """The verdict, in its two parts.

    First comes what was unsafe or below standard, how many circuits, whether the entry was right and all within
    tolerance, and what would make it better; then what was learned, and how the hold was left.
    """

    first: tuple[str, ...]
    rest: tuple[str, ...]


def said(
    findings: Sequence[Finding], circuits: int, broken_off: int = 0, *, entry_unsure: bool = False
) -> Said:
    """Write the verdict from ranked findings and how many circuits were flown, and how many of them broken off."""
    bad = [one for one in findings if one.severity in ("unsafe", "below standard") or one.kind in _CAUTIONS]
    good = [one for one in findings if one.severity == "good"]
    better = [one for one in findings if one.severity == "improve" and one.kind not in (*_CAUTIONS, *_BELOW)]
    words = [*(one.sentence for one in bad), _flown(circuits, broken_off, entry_unsure)]
    words += [one.sentence for one in good if one.kind in _ABOVE]
    # A finer touch on what was within its tolerance is no news beside a fault.
    words += [one.sentence for one in better if not bad or one.outside or one.kind not in DECISIONS][:1]
    kinds = {one.kind for one in good}
    if not bad and not better and "within" in kinds and "no budget" not in kinds:
        words.append("No fault cost enough to speak of.")
    rest = tuple(one.sentence for one in findings if one.kind in _BELOW and one not in bad)
    return Said(tuple(dict.fromkeys(words)), rest)


def _flown(circuits: int, broken_off: int, entry_unsure: bool) -> str:
    parts = [count(circuits - broken_off, "circuit")] if circuits > broken_off else []
    parts += ["one more that may have been the entry"] if entry_unsure else []
    parts += [f"{count(broken_off, 'circuit')} broken off"] if broken_off else []
    if parts == [f"{count(broken_off, 'circuit')} broken off"]:
        return sentence(f"{count(circuits, 'circuit')}, broken off")
    return sentence(", and ".join(parts) if len(parts) < 3 else f"{parts[0]}, {parts[1]}, and {parts[2]}")


def work_on_first(findings: Sequence[Finding]) -> Finding | None:
    """Choose, of ranked findings, the one thing to work on first: the worst that has advice."""
    return next((one for one in findings if one.advice), None)
