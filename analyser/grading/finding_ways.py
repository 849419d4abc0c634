"""Findings on the ways flown: the entry, the side held, the course to the fix, turns the wrong way, circles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyser.circuits.flown import Circuit, FlownHold, HoldFit
from analyser.circuits.frame import apart_nm
from analyser.circuits.thresholds import GIVEN, RACETRACK
from analyser.earth.angles import wrap180
from analyser.grading.entry import is_twice
from analyser.grading.finding import Finding, Severity
from analyser.grading.grading_thresholds import FINDING
from analyser.grading.judged import Arrival, JudgedEntry, JudgedHold
from analyser.grading.score import Numbers, Score, passed
from analyser.grading.wording import Number, clock_words, on_circuits, sentence, with_article
from analyser.holds.entries import entries_by_way


def entry_findings(judged: JudgedHold) -> list[Finding]:
    """Find what is to be said of the entry; nothing where the log begins inside the hold."""
    entry = judged.entry
    if entry is None:
        return []
    return [
        _sector(entry, judged),
        *(
            words(score, judged)
            for words, score in ((_angle, entry.angle), (_time, entry.time))
            if score is not None and score.verdict == "outside"
        ),
        *_turn_back(entry, judged),
        *_arrival(entry.arrival, judged),
    ]


def _of_entry(
    kind: str,
    severity: Severity,
    words: str,
    numbers: Numbers = (None, None, None, None, ""),
    advice: str = "",
    brief: str = "",
    *,
    outside: bool = True,
    cost_points: float = 0.0,
) -> Finding:
    found = Finding(kind, severity, (), words, *numbers, advice, brief=brief, item="entry")
    return replace(found, outside=outside, cost_points=cost_points)


def _arrival(arrival: Arrival, judged: JudgedHold) -> list[Finding]:
    """Find a speed over the fix beyond the limit, and one that came down to it later than the rules ask."""
    found: list[Finding] = []
    limit, at_fix, score = arrival.limit_kias, arrival.speed_at_fix_kias, arrival.slow_down
    slow_down = f"Be at {limit:.0f} kt or less"
    over = arrival.verdict == "outside" and at_fix is not None
    if over and arrival.over_limit_s > judged.scoring.unsafe.over_limit_for_s:
        return found
    if over and at_fix is not None:
        words = f"You crossed the fix at {at_fix:.0f} kt indicated; the maximum holding speed here is {limit:.0f} kt."
        brief = f"{at_fix - limit:.0f} kt above the maximum holding speed over the fix"
        numbers = (at_fix, limit, None, None, "kt")
        found.append(
            _of_entry("arrival speed", "improve", words, numbers, f"{slow_down} before the fix.", brief)
        )
    if score is None or score.verdict != "outside" or score.value is None or score.target is None:
        return found
    minutes = f"{score.target / 60.0:.0f} minutes"
    when = "over the fix" if over else f"{score.value:.0f} s before the fix"
    words = (
        f"You were above the maximum holding speed of {limit:.0f} kt until {when}; where notice allows it is met at "
        f"least {minutes} before."
    )
    advice = f"{slow_down} {minutes} before the fix, where notice allows."
    brief = f"slowed down {score.value:.0f} s before the fix"
    severity = judged.scoring.slow_down.severity
    return [*found, _of_entry("slowing down", severity, words, score.numbers, advice, brief, outside=False)]


def _turned_away(entry: JudgedEntry, judged: JudgedHold, cost_points: float) -> Finding:
    """Say that it turned to the wrong side, which leads out of the holding area and not back to the fix."""
    assert entry.turn_back_deg is not None
    way, right = ("right", "left") if entry.turn_back_deg > 0.0 else ("left", "right")
    kind = judged.regime.entry.word(str(entry.turned_away))
    return _of_entry(
        "entry way",
        "unsafe",
        f"Your {kind} entry turned back to the {way}, away from the holding side; it turns back {right}.",
        (entry.turn_back_deg, None, None, None, "°"),
        f"Turn back to the {right} from {with_article(kind)} entry's leg.",
        "entry turned to the wrong side",
        cost_points=cost_points,
    )


def _asks(entry: JudgedEntry, judged: JudgedHold) -> tuple[str, str]:
    """Say what asks for an entry, and when to fly it: a published way to the fix, or the heading there."""
    hold = judged.flown.hold
    heading, course = entry.entry.arrival_heading_deg, hold.inbound_course_true_deg
    if entries_by_way(heading, course, hold.turns, judged.regime.entry, hold.arrival):
        way = "along the reciprocal" if hold.arrival == "reciprocal" else "on the distance arc"
        return f"The arrival {way}", f"After an arrival {way}"
    return "The heading at the fix", "On such a heading"


def _sector(entry: JudgedEntry, judged: JudgedHold) -> Finding:
    cost = judged.share_of("entry") * (100.0 - (100.0 if entry.points is None else entry.points))
    if entry.turned_away is not None:
        return _turned_away(entry, judged, cost)
    asks, on_such = _asks(entry, judged)
    word = judged.regime.entry.word
    wanted = with_article(" or ".join(map(word, entry.sectors_allowed)))
    perhaps = f" or {with_article(word(entry.entry.perhaps))}" if entry.entry.perhaps is not None else ""
    flown = "none of the three"
    if entry.entry.flown != "other":
        flown = f"{with_article(word(entry.entry.flown))}{perhaps} one"
    if entry.verdict == "correct" and not entry.recommended:
        words = f"For the heading at the fix {wanted} entry is recommended; you flew {flown}."
        advice = f"On such a heading {wanted} entry is recommended: work out the sector before the fix."
        return _of_entry("entry", "improve", words, advice=advice, outside=False, cost_points=cost)
    if entry.verdict == "correct":
        outside = any(one is not None and one.verdict == "outside" for one in (entry.angle, entry.time))
        return _about("You chose the right entry." if outside else "Your entry was right.")
    advice = f"{on_such} fly {wanted} entry: work it out before the fix."
    if entry.may_be_circuit:
        return _wrong_side(wanted, advice, judged)
    if entry.verdict == "not judged":
        return _about(f"The entry was not judged: {entry.note}.")
    words = f"{asks} asked for {wanted} entry; you flew {flown}."
    return _of_entry("entry", "below standard", words, advice=advice, brief="wrong entry", cost_points=cost)


def _wrong_side(wanted: str, advice: str, judged: JudgedHold) -> Finding:
    """Say that it led out to the wrong side, as an entry or as a circuit: the milder of the two is held against it."""
    way = judged.flown.hold.other_turns
    binding = judged.regime.entry.binding != "recommended"
    another = f"{wanted} one {'was asked for' if binding else 'is recommended'}"
    words = (
        f"You turned {way} over the fix, away from the holding side, and {way} again: a parallel entry where "
        f"{another}, or a first circuit to the wrong hand. They look alike, so the entry itself is not judged."
    )
    severity: Severity = "below standard" if binding else "improve"
    brief = "first turn to the wrong side"
    return _of_entry("entry", severity, words, advice=advice, brief=brief, outside=binding)


def _turn_back(entry: JudgedEntry, judged: JudgedHold) -> list[Finding]:
    """Find a parallel entry's turn back that was too small to bring the aircraft to the course before the fix."""
    turned, least = entry.turn_back_deg, judged.scoring.entry.minimum_turn_back_deg
    known = entry.verdict != "not judged" and entry.turned_away is None
    # Drift on the way out and on the way in may take some degrees off it.
    slack = judged.standard.heading.tolerance_deg
    if entry.entry.flown != "parallel" or not known or turned is None or abs(turned) >= least - slack:
        return []
    words = f"You turned back from the parallel entry through {abs(turned):.0f}°; it takes more than {least:.0f}°."
    return [_of_entry("turn back", "improve", words, (abs(turned), least, slack, None, "°"), outside=False)]


def _angle(score: Score, judged: JudgedHold) -> Finding:
    assert score.value is not None and score.target is not None and score.tolerance is not None
    by_heading = judged.regime.entry.angles_are == "headings"
    led, fly = ("heading lay", "Turn to a heading") if by_heading else ("track led", "Make good a track")
    where, band = _to_side(score.target), f"(±{score.tolerance:.0f}°)"
    right = f"{where.removesuffix(' of')} {band}" if score.target else f"along it {band}"
    flown = _to_side(score.value)
    if abs(round(score.value) - round(score.target)) <= score.tolerance:
        # Rounded, it would be said to lie within.
        flown = f"just {'over' if abs(score.value) > round(abs(score.value)) else 'under'} {flown}"
    words = f"Your entry's {led} {flown} the outbound course; {right} was right."
    far = abs(score.value - score.target) - 2.0 * (score.sd or 0.0) >= judged.scoring.entry.another_way_deg
    advice = f"{fly} {where} the outbound course for the entry's outbound leg."
    severity: Severity = "below standard" if far else "improve"
    brief = "entry track outside its tolerance"
    return _of_entry("entry track", severity, words, score.numbers, advice, brief)


def _to_side(value_deg: float) -> str:
    """Say how far off the outbound course, and to which side: positive to the holding side."""
    if abs(value_deg) < 0.5:
        return "along"
    return f"{abs(value_deg):.0f}° to the {'holding' if value_deg > 0.0 else 'non-holding'} side of"


def _time(score: Score, judged: JudgedHold) -> Finding:
    assert score.value is not None and score.target is not None
    by_length = score.unit == "NM"
    said, right, allowed = (
        f"{one:.1f} NM" if by_length else f"{one:.0f} s"
        for one in (score.value, score.target, score.tolerance or 0.0)
    )
    flown = f"ended {passed(score, ' NM', 1)} out" if by_length else f"took {passed(score, ' s')}"
    words = f"Your entry's outbound leg {flown}; "
    words += f"{right} (±{allowed.split()[0]}) was right."
    advice = (
        f"End the entry's outbound leg {right} out."
        if by_length
        else f"Fly the entry's outbound leg for {right} in this wind."
    )
    if is_twice(score, judged.scoring):
        brief = f"entry leg of {said} instead of {right}"
        return _of_entry("long entry leg", "unsafe", words, score.numbers, advice, brief)
    brief = "entry time outside its tolerance"
    return _of_entry("entry time", "improve", words, score.numbers, advice, brief)


def _about(words: str) -> Finding:
    return _of_entry("entry", "good", words, outside=False)


#: Its kind; it has a cap of its own.
WRONG_SIDE = "wrong side"


def hand_findings(judged: JudgedHold) -> list[Finding]:
    """Find circuits flown to the other hand than the hold's; of one that was inferred, one was the wrong side."""
    says, flew = judged.given.turns, judged.given.other_turns
    if not judged.flown.given:
        numbers = _beyond_the_first(judged.other_hand)
        if not numbers or judged.flown.other_end is not None:
            return []
        where = on_circuits(numbers)
        said = f"You held {flew}-hand{where} and {says}-hand on the rest."
        return [_either_hand(numbers, said, where)]
    if not judged.other_hand:
        return []
    where = "" if len(judged.other_hand) == len(judged.circuits) else on_circuits(judged.other_hand)
    return [
        Finding(
            WRONG_SIDE,
            "unsafe",
            judged.other_hand,
            f"The file says {says}-hand turns; you held {flew}-hand{where}, {_near(judged)}. The holding area lies on "
            "the other side; check the file, or turn the other way.",
            advice=f"Turn {says} over the fix: the hold is {says}-hand.",
            brief=f"flown on the non-holding side{where}",
        )
    ]


def _either_hand(numbers: tuple[int, ...], said: str, where: str) -> Finding:
    return Finding(
        "both hands",
        "below standard",
        numbers,
        f"{said} A hold has one side: one of the two was flown on the non-holding side, and a hold file settles which.",
        advice="Turn to one hand on every circuit: the one that the hold is published with.",
        brief=f"held to the other hand{where}",
        outside=True,
    )


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
    found = [*_turned_in(judged), *_orbits(judged), *_left_other_way(judged)]
    circled = [one for one in judged.circuits if one.circuit.circles_s]
    if circled:
        numbers = tuple(one.number for one in circled)
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


def _left_other_way(judged: JudgedHold) -> list[Finding]:
    """Find that the hold was left by a turn away from it that came back: it may have been a circuit all the same."""
    return [
        Finding(
            "left to the other side",
            "improve",
            (),
            f"{sentence(said.message)} If it was a circuit, it was flown on the wrong side, where "
            "the holding area gives the least room.",
            brief="a way back on the other side after the last circuit, not judged",
        )
        for said in judged.flown.notices
        if said.code == "left-other-way"
    ]


def _orbits(judged: JudgedHold) -> list[Finding]:
    """Find circles over the fix between circuits: they belong to none, and are judged by nothing."""
    motion, found = judged.flown.motion, []
    for before, after in pairwise(one.circuit for one in judged.circuits):
        heading = motion.heading_deg[motion.span(before.end_s, after.start_s)]
        heading = heading[np.isfinite(heading)]
        turned_deg = abs(float(np.sum(wrap180(np.diff(heading)))))
        if turned_deg >= FINDING.circle_deg:
            where = f"between circuits {before.number} and {after.number}"
            lasted = clock_words(after.start_s - before.end_s)
            words = f"You circled over the fix {where} for {lasted}: none of it was judged."
            found.append(Finding("circle", "improve", (), words, brief=f"full circle over the fix {where}"))
    return found


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
    every = tuple(one.number for one in judged.circuits)
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
            said = f"You held {here.hold.turns}-hand round this fix, and {other.hold.turns}-hand {words}."
            return (_either_hand((), said, f" {words}"),)
    return ()
