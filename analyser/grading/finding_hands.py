"""Findings on hands and ways: the side flown, the course flown to the fix, turns the wrong way, circles."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold, HoldFit
from analyser.circuits.frame import apart_nm
from analyser.circuits.thresholds import GIVEN, RACETRACK
from analyser.earth.angles import wrap180
from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedHold
from analyser.grading.wording import Number, clock_words, on_circuits

#: Its kind; it has a cap of its own.
WRONG_SIDE = "wrong side"


def hand_findings(judged: JudgedHold) -> list[Finding]:
    """Find circuits flown to the other hand than the hold's, with both readings."""
    if not judged.flown.given:
        return _changed_hand(judged)
    if not judged.other_hand:
        return []
    says, flew = judged.given.turns, judged.given.other_turns
    every = len(judged.other_hand) == len(judged.circuits)
    numbers = judged.other_hand
    where = "" if every else on_circuits(numbers)
    return [
        Finding(
            WRONG_SIDE,
            "unsafe",
            numbers,
            f"The file says {says}-hand turns; you held {flew}-hand{where}, {_near(judged)}. The holding area lies on "
            "the other side; check the file, or turn the other way.",
            advice=f"Turn {says} over the fix: the hold is {says}-hand.",
            brief=f"flown on the non-holding side{where}",
        )
    ]


def _changed_hand(judged: JudgedHold) -> list[Finding]:
    """Find that an inferred hold was flown to either hand: one of the two was the non-holding side."""
    most, flew = judged.given.turns, judged.given.other_turns
    numbers = _beyond_the_first(judged.other_hand)
    if not numbers or judged.flown.other_end is not None:
        return []
    where = on_circuits(numbers)
    return [
        Finding(
            "both hands",
            "below standard",
            numbers,
            f"You held {flew}-hand{where} and {most}-hand on the rest. A hold has one side: one of the two was flown "
            "on the non-holding side, and a hold file settles which.",
            advice="Turn to one hand on every circuit: the one that the hold is published with.",
            brief=f"held to the other hand{where}",
            outside=True,
        )
    ]


def _beyond_the_first(numbers: tuple[int, ...]) -> tuple[int, ...]:
    """Leave out what may have been the entry to an inferred hold, which turns as it must."""
    return tuple(number for number in numbers if number > 1)


def _turned_in(judged: JudgedHold) -> list[Finding]:
    """Find inbound turns made the wrong way: than the file says, or than all the other turns were made."""
    says, flew = judged.given.turns, judged.given.other_turns
    given = judged.flown.given
    numbers = judged.turned_away if given else _beyond_the_first(judged.turned_away)
    unsure = not given and (judged.flown.other_end is not None or 2 * len(numbers) > len(judged.circuits))
    if not numbers or unsure:
        return []
    why = f"the hold is {says}-hand, so turn {says}" if given else f"all other turns were made to the {says}"
    return [
        Finding(
            "inbound way",
            "below standard",
            numbers,
            f"You turned inbound to the {flew}{on_circuits(numbers)}; {why}.",
            advice=f"Turn {says} at the end of the outbound leg.",
            brief=f"turned inbound to the {flew}{on_circuits(numbers)}",
            outside=True,
        )
    ]


def lap_findings(judged: JudgedHold) -> list[Finding]:
    """Find inbound turns made the wrong way, and whole circles within a leg."""
    found = [*_turned_in(judged), *_orbits(judged)]
    circled = [one for one in judged.circuits if one.circuit.circles_s]
    if circled:
        numbers = tuple(one.circuit.number for one in circled)
        legs = sorted({_circled_leg(one.circuit) for one in circled}, reverse=True)
        words = f"You flew a full circle within the {' and the '.join(legs)} leg{on_circuits(numbers)}"
        found.append(
            Finding(
                "circle",
                "improve",
                numbers,
                # It may have been asked for: nothing to work on.
                f"{words}: no time, heading or track was judged while it lasted.",
                brief=f"full circle within the leg{on_circuits(numbers)}",
            )
        )
    return found


def _orbits(judged: JudgedHold) -> list[Finding]:
    """Find circles over the fix between circuits: they belong to none, and are judged by nothing."""
    motion, found = judged.flown.motion, []
    for before, after in pairwise(one.circuit for one in judged.circuits):
        heading = motion.heading_deg[motion.span(before.end_s, after.start_s)]
        heading = heading[np.isfinite(heading)]
        turned_deg = abs(float(np.sum(wrap180(np.diff(heading)))))
        if turned_deg >= _CIRCLE_DEG:
            where = f"between circuits {before.number} and {after.number}"
            lasted = clock_words(after.start_s - before.end_s)
            words = f"You circled over the fix {where} for {lasted}: none of it was judged."
            found.append(Finding("circle", "improve", (), words, brief=f"full circle over the fix {where}"))
    return found


#: A full circle, but for what the next turn takes of it, degrees.
_CIRCLE_DEG = 300.0


def _circled_leg(circuit: Circuit) -> str:
    turn = circuit.inbound_turn
    return "outbound" if turn is None or circuit.circles_s[0][0] < turn.start_s else "inbound"


def _near(judged: JudgedHold) -> str:
    """Say how near the fix was met: the nearest of the passages at the circuits' ends."""
    misses = [one.measures.fix_miss_nm for one in judged.circuits if one.measures.fix_miss_nm is not None]
    nearest = f"{min(misses):.1f}" if misses else "0.0"
    return "round this fix" if nearest == "0.0" else f"{nearest} NM from this fix at the nearest"


def held_reversed(judged: JudgedHold, fits: Sequence[HoldFit]) -> tuple[Finding, ...]:
    """Find that the one given hold was flown on the reciprocal of its course: the file is wrong, or the pilot was."""
    if len(fits) != 1 or fits[0].code != "course-reversed" or judged.flown.given:
        return ()
    hold, variation = fits[0].hold, judged.variation_deg
    if apart_nm(judged.given, hold) > GIVEN.met_nm:
        return ()
    says = Number(hold.inbound_course_true_deg, "°", "true").said(variation)
    words = (
        f"The file's inbound course is {says}; you held on the reciprocal of it, at this fix. The holding area lies on "
        "the other side of the fix; check the file, or fly its course inbound."
    )
    every = tuple(one.circuit.number for one in judged.circuits)
    return (
        Finding(
            WRONG_SIDE,
            "unsafe",
            every,
            words,
            advice=f"Fly {says} towards the fix: that is the inbound course.",
            brief="flown on the reciprocal of the inbound course",
            directions_true_deg=(hold.inbound_course_true_deg,),
        ),
    )


def both_hands(holds: Sequence[FlownHold], place: int) -> tuple[Finding, ...]:
    """Find that a hold that was inferred was flown to the other hand just before or after: it has one side only."""
    here = holds[place]
    if here.given:
        return ()
    when = {-1: "just before", 1: "right after"}
    for step, words in when.items():
        other = holds[place + step] if 0 <= place + step < len(holds) else here
        apart_s = max(other.start_s - here.end_s, here.start_s - other.end_s)
        off_deg = abs(wrap180(other.hold.inbound_course_true_deg - here.hold.inbound_course_true_deg))
        if (
            not other.given
            and other.hold.turns != here.hold.turns
            and apart_s <= RACETRACK.one_stay_s
            and off_deg <= RACETRACK.one_course_deg
            and apart_nm(here.hold, other.hold) <= GIVEN.met_nm
        ):
            said = (
                f"You held {here.hold.turns}-hand round this fix, and {other.hold.turns}-hand {words}. A hold has one "
                "side: one of the two was flown on the non-holding side, and a hold file settles which."
            )
            advice = "Turn to one hand on every circuit: the one that the hold is published with."
            brief = f"held to the other hand {words}"
            return (
                Finding("both hands", "below standard", (), said, advice=advice, brief=brief, outside=True),
            )
    return ()
