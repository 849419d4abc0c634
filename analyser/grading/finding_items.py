"""Findings on the circuits' graded items: what lay outside, how often, put right or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from analyser.grading.finding import Finding, Severity, Told
from analyser.grading.finding_advice import MENDED, advised
from analyser.grading.finding_limits import beyond_radial, early_turn, late_turn, long_outbound, missed_fix
from analyser.grading.grading_thresholds import FINDING
from analyser.grading.judged import JudgedCircuit, JudgedHold, on_these
from analyser.grading.legs_and_turns import SINCE
from analyser.grading.score import Score, passed
from analyser.grading.wording import said_apart_deg, share_of, up_to
from analyser.rules.graded_items import item_of
from analyser.rules.scoring import ITEMS


def correction_words(judged: JudgedHold, circuit: JudgedCircuit) -> str | None:
    """Say an outbound heading as a share of the drift correction that it needed; None where hardly any was."""
    if circuit.measures.outbound_correction_deg is None:
        return None
    needed, flown = circuit.ideal.circuit.outbound_correction_deg, circuit.measures.outbound_correction_deg
    if abs(needed) < FINDING.least_correction_deg:
        return None
    more = _further_right_deg(judged, circuit) * (1 if needed > 0 else -1)
    where = (
        f"{judged.on(circuit)} the outbound heading" if len(judged.circuits) > 1 else "The outbound heading"
    )
    # Into the wind is the way the correction points; said as the pilot steers.
    side = "right" if needed > 0 else "left"
    if flown * needed < 0.0 and abs(flown) >= FINDING.least_correction_deg:
        return f"{where} was laid off to the wrong side: {more}° further {side} was needed."
    part = max(flown / needed, 0.0)
    if abs(part - 1.0) < FINDING.about_all_share:
        amount = "little" if more > 0 else "much"
        return f"{where} carried {abs(more)}° too {amount} drift correction to the {side}."
    carried = share_of(part)
    if more > 0:
        return f"{where} carried {carried} the drift correction it needed: {more}° more to the {side} was needed."
    return f"{where} carried {carried} the drift correction it needed: {-more}° less of it was right."


def _further_right_deg(judged: JudgedHold, circuit: JudgedCircuit) -> int:
    """Return how far right of the outbound heading flown the right one lay, as both are said; left negative."""
    leg = circuit.circuit.outbound_leg
    assert leg is not None
    return said_apart_deg(circuit.ideal.circuit.outbound_heading_deg, leg.heading_deg, judged.variation_deg)


#: Scored items whose findings are made otherwise.
_ELSEWHERE = ("timing", "altitude", "speed")


def item_findings(judged: JudgedHold) -> list[Finding]:
    """Find what lay outside its tolerance on the circuits."""
    long = long_outbound(judged)
    found = [
        long,
        _no_leg(judged),
        late_turn(judged),
        early_turn(judged),
        beyond_radial(judged),
        missed_fix(judged),
        *([] if long is not None else _timings(judged)),
        *(_item(judged, item, judged.flown_out) for item in ITEMS if item not in _ELSEWHERE),
    ]
    return [one for one in found if one is not None]


def _timings(judged: JudgedHold) -> list[Finding | None]:
    """Find times outside their tolerance: where the inbound leg is timed, the first outbound is another quantity."""
    flown_out = [one for one in judged.flown_out if one.has_leg]
    first = [one for one in flown_out if one.terms.timed == "first outbound"]
    found = _item(judged, "timing", [one for one in flown_out if one not in first])
    measuring = _item(judged, "timing", flown_out if found is None else first)
    if found is not None and measuring is not None:
        # It measured the wind; what the later legs made of that is what counts.
        measuring = replace(measuring, severity="improve", advice="", directions_true_deg=())
    return [found, measuring]


def _no_leg(judged: JudgedHold) -> Finding | None:
    """Find circuits on which one turn was flown into the other, where an outbound leg was to be flown."""
    timed = [one for one in judged.flown_out if one.terms.timed != "not judged"]
    where = [one for one in timed if not one.has_leg]
    if not where:
        return None
    worst = min(where, key=lambda one: one.measures.timed_wings_s or 0.0)
    exact = worst.ideal.circuit
    target_s = exact.outbound_time_s if exact.closes else None
    return judged.fault(
        "no outbound leg",
        "below standard",
        where,
        f"You flew no outbound leg to speak of between the turns{on_these(where)}.",
        (worst.measures.timed_wings_s, target_s, None, worst.measures.timed_sd_s, "s"),
        "no outbound leg",
        advised(judged, "timing", where, timed),
        item="timing",
        among=where,
    )


def _item(judged: JudgedHold, item: str, among: Sequence[JudgedCircuit]) -> Finding | None:
    where = [one for one in among if one.scores[item].verdict == "outside"]
    if not where:
        return None
    worst = max(where, key=lambda one: multiple(one.scores[item]))
    severity, mended = _severity(judged, item, where, among)
    told = Told() if mended and severity == "improve" else advised(judged, item, where, among)
    words, brief = _WORDS[item](judged, worst, where) if item in _WORDS else _plainly(judged, worst, item)
    if item in _BY_SPEED and _at_another_speed(judged, worst):
        words += " That is for the speed flown, not for the one asked for."
    words += MENDED if mended else ""
    numbers = worst.scores[item].numbers
    return judged.fault(item, severity, where, words, numbers, brief, told, item=item, among=among)


#: Items of which the right figure hangs on the airspeed.
_BY_SPEED = ("timing", "wind_correction", "bank")


def _at_another_speed(judged: JudgedHold, one: JudgedCircuit) -> bool:
    """Return whether a speed was asked for, and another was flown for most of a circuit."""
    kept, outside_s = judged.speed_kept, one.scores["speed"].outside_s
    if kept is None or not kept.given or outside_s is None or one.terms.timed == "length":
        return False
    return outside_s > 0.5 * (one.circuit.end_s - one.circuit.start_s)


def multiple(score: Score) -> float:
    """Return a score's deviation in tolerances."""
    if score.deviation is None or not score.tolerance:
        return 0.0
    return abs(score.deviation) / score.tolerance


def _severity(
    judged: JudgedHold, item: str, where: Sequence[JudgedCircuit], among: Sequence[JudgedCircuit]
) -> tuple[Severity, bool]:
    """Return how bad it is, and whether it was put right on the circuits after."""
    rule = judged.scoring.below_standard
    seen = [one for one in among if one.scores[item].points is not None]
    last = max(one.number for one in where)
    mended = any(one.number > last for one in seen)
    excused = rule.excuse_measuring_circuit and item_of(item).measures_wind and judged.entry is not None
    counted = [one for one in where if not (excused and mended and one is judged.circuits[0])]
    if mended and not counted:
        return "improve", True
    far = any(multiple(one.scores[item]) > rule.beyond_tolerances for one in counted)
    often = len(counted) >= rule.consistent_share * len(seen)
    return ("below standard" if far or often or not mended else "improve"), mended


def _timing(judged: JudgedHold, worst: JudgedCircuit, where: Sequence[JudgedCircuit]) -> tuple[str, str]:
    score, terms = worst.scores["timing"], worst.terms
    assert score.value is not None and score.target is not None and score.tolerance is not None
    on, off = judged.on(worst), abs(score.value - score.target)
    ways = {"long" if (one.scores["timing"].deviation or 0.0) > 0.0 else "short" for one in where}
    way = ways.pop() if len(ways) == 1 else "off"
    if terms.timed == "length":
        words = (
            f"{on} you turned inbound {score.value:.1f} NM out; the leg ends at {score.target:.1f} NM "
            f"(±{score.tolerance:.1f})."
        )
        return words, f"outbound leg {up_to(where)}{off:.1f} NM {way}"
    band = f"{score.target:.0f} s (±{score.tolerance:.0f})"
    # By a fix that was inferred no time is known to the second.
    time = f"{'' if judged.flown.fix_sd_nm is None else 'about '}{passed(score, ' s')}"
    brief = f"leg {up_to(where)}{off:.0f} s {way}"
    if terms.timed == "inbound":
        return f"{on} your inbound leg took {time}; {band} was to be flown.", f"inbound {brief}"
    asked = "the first is flown for" if terms.timed == "first outbound" else "this wind asked for"
    return f"{on} you flew {time} outbound from {SINCE[terms.clock]}; {asked} {band}.", f"outbound {brief}"


def _wind_correction(
    judged: JudgedHold, worst: JudgedCircuit, where: Sequence[JudgedCircuit]
) -> tuple[str, str]:
    right_deg = _further_right_deg(judged, worst)
    words = correction_words(judged, worst)
    if not words:
        side = "left" if right_deg > 0 else "right"
        words = f"{judged.on(worst)} the outbound heading lay {abs(right_deg)}° too far {side} for this wind."
    return words, f"outbound heading {up_to(where)}{abs(right_deg)}° off"


def _bank(judged: JudgedHold, worst: JudgedCircuit, where: Sequence[JudgedCircuit]) -> tuple[str, str]:
    """Say which turns, how steep, and what was asked; both turns together where both were wrong."""
    outside = {
        (one.number, name): (score.value, score)
        for one in where
        for name, score in one.turns.items()
        if score.verdict == "outside" and score.value is not None
    }
    score = worst.scores["bank"]
    assert score.value is not None and score.target is not None and score.tolerance is not None
    if not outside:
        return (
            f"{judged.on(worst)} your bank was {score.value:.0f}° in the turns; {score.target:.0f}° "
            f"(±{score.tolerance:.0f}) was right.",
            "bank outside its tolerance",
        )
    names = {name for _, name in outside}
    turns = "both turns" if len(names) == 2 else f"the {next(iter(names)).replace('_', ' ')}"
    most_deg, far = max(outside.values(), key=lambda one: multiple(one[1]))
    assert far.target is not None and far.deviation is not None
    least, most = min(value for value, _ in outside.values()), max(value for value, _ in outside.values())
    both_ways = least < far.target < most
    steep = "off" if both_ways else "too steep" if far.deviation > 0 else "too flat"
    how = f"{most_deg:.0f}°"
    if both_ways:
        how = f"between {least:.0f}° and {most:.0f}°"
    elif most - least > FINDING.like_deg:
        how = f"{'up to' if far.deviation > 0 else 'as little as'} {how}"
    # Of a bank that was not held the mean is neither what it began nor what it ended with.
    how += " on average" if any(one.scores["steadiness"].verdict == "outside" for one in where) else ""
    # What lies between the banks with a flight director and without is right: the nearer one is what was missed.
    near = most_deg - far.deviation
    right = f"{far.target:.0f}°" if abs(near - far.target) < 0.5 else f"{near:.0f}° to {far.target:.0f}°"
    return (
        f"You banked {how} in {turns}{on_these(where)}; {right} (±{score.tolerance:.0f}) was right.",
        f"bank {up_to(where)}{abs(far.deviation):.0f}° {steep}",
    )


def _steadiness(judged: JudgedHold, worst: JudgedCircuit, where: Sequence[JudgedCircuit]) -> tuple[str, str]:
    score = worst.scores["steadiness"]
    words = (
        f"{judged.on(worst)} the bank wandered by {passed(score, '°')} in the turns; "
        f"±{score.tolerance:.0f}° is allowed."
    )
    return words, "unsteady bank"


def _track(judged: JudgedHold, worst: JudgedCircuit, where: Sequence[JudgedCircuit]) -> tuple[str, str]:
    score = worst.scores["track"]
    assert score.value is not None
    off = passed(score, "°") if score.unit == "°" else passed(score, " NM", 1)
    allowed = f"±{score.tolerance:.0f}°" if score.unit == "°" else f"±{score.tolerance:.1f} NM"
    words = (
        f"{judged.on(worst)} you were {off} off the inbound course over the whole leg; {allowed} is allowed."
    )
    return words, f"{up_to(where)}{off} off the inbound course"


def _plainly(judged: JudgedHold, worst: JudgedCircuit, item: str) -> tuple[str, str]:
    """Say it of an item that has no words of its own."""
    about, score = item_of(item), worst.scores[item]

    def said(value: float | None) -> str:
        known = f"{value:.{about.decimals + 1}f} {score.unit}".replace(" °", "°") if value is not None else ""
        return known or "not known"

    title = about.title[0].lower() + about.title[1:]
    asked = f"{said(score.target)} ±{said(score.tolerance)}"
    words = f"{judged.on(worst)} the {title} was {said(score.value)}; {asked} is asked."
    return words, f"{title} {said(score.value)}"


_WORDS = {
    "timing": _timing,
    "wind_correction": _wind_correction,
    "bank": _bank,
    "steadiness": _steadiness,
    "track": _track,
}
