"""What to do next time: the advice on each graded item, on what else cost most, and what was learned."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analyser.earth.angles import wrap180
from analyser.grading.finding import Finding, Told
from analyser.grading.grading_thresholds import FINDING
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.learning import Lesson
from analyser.grading.legs_and_turns import Leaving
from analyser.grading.next_time import Change, NextTime
from analyser.grading.wording import Number, from_wings_level, on_circuits, said_apart_deg
from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit
from analyser.rules.scoring import LearningBands


def item_advice(judged: JudgedHold, item: str, latest: JudgedCircuit) -> Told:
    """Return what to do about an item, or ``"late turn"``.

    Where the next circuit could be flown ahead, what was found to help is all that is advised: putting one item
    right alone may make another worse. Nothing where there is nothing to say that helps. ``latest`` is the last
    circuit on which it lay outside: its wind and its numbers are the freshest.
    """
    plan = judged.next_time
    if plan is not None and item in PLANNED and item not in plan.moves_nothing:
        planned = planned_advice(judged, item)
        return planned if planned.advice or item != "track" else _track(judged, latest)
    known_deg = 2.0 * latest.ideal.outbound_heading_sd_deg
    if plan is None and item in _DECIDED and known_deg <= judged.standard.heading.tolerance_deg:
        return _exact_circuit(judged, latest)
    if item == "steadiness":
        return Told("Keep the bank steady through the turns.")
    target = latest.scores["bank"].target
    if item == "bank" and target is not None:
        outside = [name for name, score in latest.turns.items() if score.verdict == "outside"]
        turns = "both turns" if len(outside) != 1 else f"the {outside[0].replace('_', ' ')}"
        return Told(f"Hold {target:.0f}° of bank in {turns}.")
    return _track(judged, latest) if item == "track" else Told()


def advised(
    judged: JudgedHold, item: str, where: Sequence[JudgedCircuit], among: Sequence[JudgedCircuit]
) -> Told:
    """Return what to do about an item that lay outside: as on the last circuit, where it was put right by then."""
    right = [one for one in among if one.scores[item].verdict == "within"]
    if right and right[-1].number > where[-1].number:
        return as_on(item, right[-1])
    return item_advice(judged, item, where[-1])


def as_on(item: str, one: JudgedCircuit) -> Told:
    """Advise to keep to what was put right."""
    return Told(
        f"{_EVERY_TIME.get(item, 'Do it every time')} as on circuit {one.number}, where it was right."
    )


_EVERY_TIME = {
    "timing": "Time every leg",
    "wind_correction": "Lay off the wind on every outbound leg",
    "bank": "Bank in every turn",
    "steadiness": "Hold the bank of every turn",
    "track": "Track the inbound course every time",
    "late turn": "Begin every outbound turn",
}


#: What a mended fault is followed by.
MENDED = " That was put right afterwards."


#: What is put right by the decisions of a circuit, which are flown ahead together.
PLANNED = ("timing", "wind_correction", "bank", "track", "late turn", "speed")
#: Of these, what each decision alone may make worse.
_DECIDED = ("timing", "wind_correction", "bank", "late turn")


def planned_advice(judged: JudgedHold, item: str) -> Told:
    """Return the advice of the next circuit's plan, where the item is among what is to be changed first."""
    plan = judged.next_time
    if plan is None:
        return Told()
    said = plan.said(judged.variation_deg)
    if any(change.item == item for change in plan.first):
        return Told(said, directions(plan.first))
    if any(change.item == item for change in plan.rest):
        return Told(plan.said(judged.variation_deg, with_rest=True), directions(plan.all))
    if item == "timing" and _mends_inbound_time(judged, plan):
        return Told(f"{said} That puts the inbound time right.", directions(plan.first))
    if item == "track" and _mends_track(judged, plan):
        return Told(f"{said} That ends the inbound turn on the course.", directions(plan.first))
    return Told()


def course_advice(judged: JudgedHold) -> Told:
    """Return what brings the pilot over the fix."""
    plan = judged.next_time
    if plan is not None and any(change.name == "course" for change in plan.first):
        return Told(plan.said(judged.variation_deg), directions(plan.first))
    return Told("Be on the inbound course a mile before the fix, and fly over it.")


def _mends_track(judged: JudgedHold, plan: NextTime) -> bool:
    """Return whether the inbound turn ended beside the course and would end well on it after the first changes."""
    along_nm = max(judged.numbered(plan.circuit).ideal.circuit.inbound_distance_nm, 0.1)
    off_deg, left_deg = (
        math.degrees(math.atan2(miss_nm, along_nm)) for miss_nm in (plan.miss_nm, plan.first_miss_nm)
    )
    tolerance_deg = judged.standard.track_angular_deg
    return off_deg > tolerance_deg and left_deg <= min(0.5 * off_deg, tolerance_deg)


def _track(judged: JudgedHold, latest: JudgedCircuit) -> Told:
    score = latest.scores["track"]
    if score.tolerance is None:
        return Told()
    allowed = f"{score.tolerance:.0f}°" if score.unit == "°" else f"{score.tolerance:.1f} NM"
    return Told(f"Hold the inbound course within ±{allowed} from the end of the turn to the fix.")


def _mends_inbound_time(judged: JudgedHold, plan: NextTime) -> bool:
    """Return whether the first changes bring the inbound leg back within its tolerance: it follows from the others."""
    latest = judged.numbered(plan.circuit)
    speed_kt = latest.ideal.circuit.inbound_ground_speed_kt
    if latest.terms.timed != "inbound" or speed_kt <= 0.0:
        return False
    return plan.first_miss_nm * 3600.0 / speed_kt <= latest.terms.timing_tolerance_s


def _exact_circuit(judged: JudgedHold, latest: JudgedCircuit) -> Told:
    """Advise all of the circuit that closes in this wind: its numbers together end on the fix, one alone may not."""
    exact, hold = latest.ideal.circuit, judged.flown.hold
    if not exact.closes or leads_beyond_radial(hold, exact):
        return Told()
    heading = exact.outbound_heading_deg % 360.0
    if latest.terms.timed == "length" and hold.leg is not None:
        turn_in = f"turn inbound at {hold.leg.distance_nm:.1f} NM"
        turn_in += "" if hold.limiting_radial_true_deg is None else ", and before the limiting radial"
    else:
        target, _ = latest.ideal.outbound_s(latest.terms.clock)
        by_abeam = latest.terms.clock == "abeam"
        since = f"passing abeam the fix{from_wings_level(exact)}" if by_abeam else "wings level"
        turn_in = f"turn inbound {target:.0f} s after {since}"
    said = Number(heading, "°", "true").said(judged.variation_deg)
    return Told(
        f"In this wind turn over the fix with {exact.bank_deg:.0f}° of bank, roll out on {said} and {turn_in}.",
        (heading,),
    )


def leads_beyond_radial(hold: Hold, exact: ExactCircuit) -> bool:
    """Tell whether the circuit that closes leads beyond the limiting radial: then no number of it is advised."""
    beyond_deg = hold.beyond_radial_deg(exact.outbound_end_along_nm, exact.outbound_end_cross_nm)
    return (beyond_deg or 0.0) > FINDING.on_deg


def advice_findings(judged: JudgedHold, named: set[str]) -> list[Finding]:
    """Find what else is to be changed on the next circuit, of what is not ``named`` yet by kind or item."""
    plan = judged.next_time
    if plan is None:
        return []
    return [
        Finding(
            change.causes[0],
            "improve",
            (plan.circuit,),
            change.advice.said(judged.variation_deg),
            change.advice.flown.value,
            change.advice.fly.value,
            None,
            _sd(judged.numbered(plan.circuit), change),
            change.advice.fly.unit,
            plan.said(judged.variation_deg) if change in plan.first else "",
            directions(plan.first if change in plan.first else (change,)),
            item=change.item,
        )
        for change in plan.all
        if change.item not in named
    ]


def _sd(one: JudgedCircuit, change: Change) -> float | None:
    """Return sigma of what a change is learned from: of the time, or of the item it belongs to."""
    if change.name == "time":
        return one.measures.timed_sd_s
    score = one.scores.get(change.item)
    return None if change.name not in ("heading", "bank") or score is None else score.sd


def directions(changes: Sequence[Change]) -> tuple[float, ...]:
    """Return the true directions that advice on some changes speaks of."""
    numbers = [one for change in changes for one in (change.advice.fly, change.advice.flown)]
    return tuple(one.value % 360.0 for one in numbers if one.reference == "true")


_QUANTITIES = (("outbound_heading", "heading"), ("outbound_time", "time"))
#: What is said of the last correction that missed what was taught.
_MISSED = {
    "wrong way": "went the wrong way",
    "too far": "went too far",
    "too little": "did not go far enough",
    "not at all": "was not made",
}
_TAUGHT, _ASKED, _EITHER = (
    "as the inbound leg taught",
    "as the wind asked",
    "as the inbound leg taught or the wind asked",
)


def learned(
    learning: Sequence[Lesson], variation_deg: float | None, bands: LearningBands
) -> list[tuple[str, bool]]:
    """Say what became of what each inbound leg taught, what was done right throughout first.

    With each sentence comes whether it was right: False of a last correction that missed. From ``bands`` on error a
    rule of thumb that was followed is held up against what the wind asked for.
    """
    praised, said = {}, []
    for quantity, words in _QUANTITIES:
        mine = [lesson for lesson in learning if lesson.quantity == quantity]
        if not mine:
            continue
        last, rest = mine[-1], _rest(mine[-1], words, variation_deg, bands)
        if last.outcome in _MISSED and _was_right(last, bands):
            was_right = f"The outbound {words} was right before, and was changed on the last circuit."
            said.append((was_right, False))
        elif last.outcome in _MISSED:
            said.append((f"The last correction of the outbound {words} {_MISSED[last.outcome]}.", False))
        elif not any(lesson.outcome in _MISSED for lesson in mine):
            taught, asked = all(one.as_taught for one in mine), all(one.as_asked for one in mine)
            praised[words] = _TAUGHT if taught else _ASKED if asked else _EITHER, rest
        elif last.as_asked:
            said.append((f"You found the right outbound {words} in the end.", True))
        else:
            said.append((f"In the end you set the outbound {words} {_TAUGHT}{rest}.", True))
    if len(praised) == 2 and praised["heading"] == (praised["time"][0], ""):
        praised = {"heading and time": praised["time"]}
    listed = ", and the outbound ".join(f"{words} {how}{rest}" for words, (how, rest) in praised.items())
    return [(f"From circuit to circuit you set the outbound {listed}.", True)] * bool(praised) + said


def _was_right(last: Lesson, bands: LearningBands) -> bool:
    """Return whether there was nothing to correct."""
    needed = last.taught.value - last.before.value
    if last.quantity == "outbound_heading":
        return abs(wrap180(needed)) <= bands.heading_band_deg
    return abs(needed) <= bands.time_band_s


def _rest(last: Lesson, words: str, variation_deg: float | None, bands: LearningBands) -> str:
    """Say what the wind asked for where the rule that was followed did not meet it."""
    if last.exact is None or last.as_asked:
        return ""
    off = last.exact.value - last.flown.value
    off = wrap180(off) if words == "heading" else off
    if abs(off) < (bands.worth_heading_deg if words == "heading" else bands.worth_time_s):
        return ""
    if words == "heading":
        way = "right" if off > 0.0 else "left"
        apart = abs(said_apart_deg(last.exact.value, last.flown.value, variation_deg))
        return f", though this wind asked for {last.exact.said(variation_deg)}, {apart}° further {way}"
    way = "longer" if off > 0.0 else "shorter"
    return f", though this wind asked for {last.exact.said()}, {abs(off):.0f} s {way}"


def learning_findings(judged: JudgedHold) -> list[Finding]:
    """Find what became of each correction, and whether the fix was left on time."""
    exact = tuple(
        lesson.exact.value for lesson in judged.learning if lesson.exact and lesson.exact.reference == "true"
    )
    found = [
        Finding("learning", "good" if right else "improve", (), sentence, directions_true_deg=exact)
        for sentence, right in learned(judged.learning, judged.variation_deg, judged.scoring.learning)
    ]
    return found + _leaving(judged)


def _leaving(judged: JudgedHold) -> list[Finding]:
    leaving = judged.leaving
    if leaving is None:
        return []
    score = leaving.score
    if leaving.left_s is None:
        words = "The fix was not passed again, so leaving on time was not judged."
        return [Finding("leaving", "good", (), words, None, None, score.tolerance, None, "s", item="leaving")]
    error = leaving.left_s - leaving.leave_at_s
    off = f"{abs(error):.0f} s {'late' if error > 0 else 'early'}"
    outside = score.verdict == "outside"
    most_s = judged.scoring.below_standard.beyond_tolerances * (score.tolerance or 0.0)
    far = outside and abs(error) - 2.0 * (score.sd or 0.0) > most_s
    return [
        Finding(
            "leaving",
            "below standard" if far else "improve" if outside else "good",
            (),
            f"You left the fix {'on the second' if abs(error) < 1.0 else off}.",
            *(error, 0.0, score.tolerance, score.sd, "s"),
            *(_leaving_advice(judged, leaving) if outside else Told()),
            item="leaving",
            brief=f"{off} over the fix",
            outside=outside,
        )
    ]


def _leaving_advice(judged: JudgedHold, leaving: Leaving) -> Told:
    """Say what the latest plan would have been that leads over the fix on time."""
    numbers = {one.circuit.start_s: one.number for one in judged.circuits}
    for departure in reversed(leaving.plans):
        plan = departure.plan
        if not plan.feasible or not plan.shortened:
            continue
        exact, first = plan.shortened[0], numbers[departure.fix_s] + plan.full_circuits
        heading = exact.outbound_heading_deg % 360.0
        which = on_circuits(range(first, first + len(plan.shortened)))
        if exact.abeam_after_s is None:
            turn_in = f"{exact.outbound_time_s:.0f} s after wings level"
        else:
            turn_in = f"{exact.outbound_timed_s:.0f} s after passing abeam the fix{from_wings_level(exact)}"
        said = Number(heading, "°", "true").said(judged.variation_deg)
        return Told(f"To leave on time, roll out on {said} and turn inbound {turn_in}{which}.", (heading,))
    return Told("Work out the leaving two circuits ahead: only the outbound legs may be shortened.")
