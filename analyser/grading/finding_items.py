"""Findings on the circuits' graded items, and on turns begun late: what lay outside, how often, mended or not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from analyser.earth.angles import wrap180
from analyser.grading.finding import Finding, Severity
from analyser.grading.finding_advice import item_advice
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.score import Score
from analyser.grading.timing import SINCE
from analyser.grading.wind_words import correction_words
from analyser.grading.wording import Number, on_circuits, up_to

#: Items that the first circuit, which measures the wind, may miss.
_MEASURED_FIRST = ("timing", "wind_correction", "track")
#: What a mended fault is followed by.
_MENDED = " That was put right afterwards."


def item_findings(judged: JudgedHold) -> list[Finding]:
    """Find what lay outside its tolerance on the circuits."""
    found = [
        _long_outbound(judged),
        _late_turn(judged),
        _beyond_radial(judged),
        *_timings(judged),
        *(
            _item(judged, item, judged.flown_out)
            for item in ("wind_correction", "bank", "steadiness", "track")
        ),
    ]
    if found[0] is not None:
        # An outbound leg of twice its time says all that its timing would.
        found = [one for one in found if one is None or one.kind != "timing"]
    return [one for one in found if one is not None]


def _timings(judged: JudgedHold) -> list[Finding | None]:
    """Find times outside their tolerance: where the inbound leg is timed, the first outbound is another quantity."""
    first = [one for one in judged.flown_out if one.terms.timed == "first outbound"]
    found = _item(judged, "timing", [one for one in judged.flown_out if one not in first])
    measuring = _item(judged, "timing", judged.flown_out if found is None else first)
    if found is not None and measuring is not None:
        # It measured the wind; what the later legs made of that is what counts.
        measuring = replace(measuring, severity="improve", advice="", directions_true_deg=())
    return [found, measuring]


def _item(judged: JudgedHold, item: str, among: Sequence[JudgedCircuit]) -> Finding | None:
    where = [one for one in among if one.scores[item].verdict == "outside"]
    if not where:
        return None
    worst = max(where, key=lambda one: multiple(one.scores[item]))
    score, numbers = worst.scores[item], tuple(one.circuit.number for one in where)
    severity, mended = _severity(judged, item, where, among)
    advice, directions = ("", ()) if mended else item_advice(judged, item, where[-1])
    words, brief = _WORDS[item](judged, worst, numbers)
    return Finding(
        item,
        severity,
        numbers,
        score.value,
        score.target,
        score.tolerance,
        score.sd,
        score.unit,
        words + (_MENDED if mended else ""),
        judged.lost_points(item, among),
        item,
        advice,
        brief + on_circuits(numbers),
        outside=True,
        directions_true_deg=directions,
    )


def passed(score: Score, unit: str, decimals: int = 0) -> str:
    """Write a value outside its tolerance so that it does not round to one within."""
    assert score.value is not None and score.target is not None and score.tolerance is not None
    said = f"{score.value:.{decimals}f}{unit}"
    if abs(round(score.value, decimals) - round(score.target, decimals)) > score.tolerance:
        return said
    return f"just {'over' if score.value > score.target else 'under'} {said}"


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
    last = max(one.circuit.number for one in where)
    mended = any(one.circuit.number > last for one in seen)
    excused = rule.excuse_measuring_circuit and item in _MEASURED_FIRST and judged.entry is not None
    counted = [one for one in where if not (excused and mended and one is judged.circuits[0])]
    if mended and not counted:
        return "improve", True
    counted = [one for one in counted if multiple(one.scores[item]) > rule.least_beyond]
    if not counted:
        return "improve", mended
    far = any(multiple(one.scores[item]) > rule.beyond_tolerances for one in counted)
    often = len(counted) >= rule.consistent_share * len(seen)
    return ("below standard" if far or often or not mended else "improve"), mended


def _timing(judged: JudgedHold, worst: JudgedCircuit, numbers: tuple[int, ...]) -> tuple[str, str]:
    score, terms = worst.scores["timing"], worst.terms
    assert score.value is not None and score.target is not None and score.tolerance is not None
    on = _on(judged, worst)
    off = score.value - score.target
    if terms.timed == "length":
        words = (
            f"{on} you turned inbound {score.value:.1f} NM out; the leg ends at {score.target:.1f} NM "
            f"(±{score.tolerance:.1f})."
        )
        return words, f"outbound leg {up_to(numbers)}{abs(off):.1f} NM {'long' if off > 0 else 'short'}"
    band, time = f"{score.target:.0f} s (±{score.tolerance:.0f})", passed(score, " s")
    # By a fix that was inferred no time is known to the second.
    about = "" if judged.flown.fix_sd_nm is None else "about "
    if terms.timed == "inbound":
        return (
            f"{on} your inbound leg took {about}{time}; {band} was to be flown.",
            f"inbound leg {up_to(numbers)}{abs(off):.0f} s {'long' if off > 0 else 'short'}",
        )
    asked = (
        f"the first is flown for {band}" if terms.timed == "first outbound" else f"this wind asked for {band}"
    )
    return (
        f"{on} you flew {about}{time} outbound from {SINCE[terms.clock]}; {asked}.",
        f"outbound leg {up_to(numbers)}{abs(off):.0f} s {'long' if off > 0 else 'short'}",
    )


def _wind_correction(judged: JudgedHold, worst: JudgedCircuit, numbers: tuple[int, ...]) -> tuple[str, str]:
    score = worst.scores["wind_correction"]
    assert score.deviation is not None
    off = abs(score.deviation)
    words = correction_words(judged, worst)
    if not words:
        side = "right" if score.deviation > 0 else "left"
        words = f"{_on(judged, worst)} the outbound heading lay {off:.0f}° too far {side} for this wind."
    return words, f"outbound heading {up_to(numbers)}{off:.0f}° off"


def _bank(judged: JudgedHold, worst: JudgedCircuit, numbers: tuple[int, ...]) -> tuple[str, str]:
    """Say which turns, how steep, and what was asked; both turns together where both were wrong."""
    outside = [
        (name, score)
        for one in judged.circuits
        if one.circuit.number in numbers
        for name, score in one.turns.items()
        if score.verdict == "outside" and score.value is not None and score.deviation is not None
    ]
    score = worst.scores["bank"]
    assert score.value is not None and score.target is not None and score.tolerance is not None
    if not outside:
        return (
            f"{_on(judged, worst)} your bank was {score.value:.0f}° in the turns; {score.target:.0f}° "
            f"(±{score.tolerance:.0f}) was right.",
            "bank outside its tolerance",
        )
    names = {name for name, _ in outside}
    turns = "both turns" if len(names) == 2 else f"the {next(iter(names)).replace('_', ' ')}"
    far = max((one for _, one in outside), key=multiple)
    assert far.value is not None and far.target is not None and far.deviation is not None
    values = [one.value for _, one in outside if one.value is not None]
    same = max(values) - min(values) <= _LIKE_DEG
    how = (
        f"{far.value:.0f}°"
        if same
        else f"{'up to' if far.deviation > 0 else 'as little as'} {far.value:.0f}°"
    )
    steep = "too steep" if far.deviation > 0 else "too flat"
    return (
        f"You banked {how} in {turns}{on_circuits(numbers)}; {far.target:.0f}° (±{score.tolerance:.0f}) was right.",
        f"bank {up_to(numbers)}{abs(far.deviation):.0f}° {steep}",
    )


#: Banks within this of one another are said as one, degrees.
_LIKE_DEG = 3.0


def _steadiness(judged: JudgedHold, worst: JudgedCircuit, numbers: tuple[int, ...]) -> tuple[str, str]:
    score = worst.scores["steadiness"]
    words = (
        f"{_on(judged, worst)} the bank wandered by {score.value:.0f}° in the turns; "
        f"±{score.tolerance:.0f}° is allowed."
    )
    return words, "unsteady bank"


def _track(judged: JudgedHold, worst: JudgedCircuit, numbers: tuple[int, ...]) -> tuple[str, str]:
    score = worst.scores["track"]
    assert score.value is not None
    off = passed(score, "°") if score.unit == "°" else passed(score, " NM", 1)
    allowed = f"±{score.tolerance:.0f}°" if score.unit == "°" else f"±{score.tolerance:.1f} NM"
    words = f"{_on(judged, worst)} you were {off} off the inbound course over the whole leg; {allowed} is allowed."
    return words, f"{up_to(numbers)}{off} off the inbound course"


_WORDS = {
    "timing": _timing,
    "wind_correction": _wind_correction,
    "bank": _bank,
    "steadiness": _steadiness,
    "track": _track,
}


def _on(judged: JudgedHold, one: JudgedCircuit) -> str:
    return f"On circuit {one.circuit.number}" if len(judged.circuits) > 1 else "On the circuit"


def _long_outbound(judged: JudgedHold) -> Finding | None:
    """Find an outbound leg of twice its time, or of twice its length."""
    long: list[tuple[float, JudgedCircuit, float, float, float]] = []
    times = judged.scoring.unsafe.outbound_multiple
    for one in judged.flown_out:
        flown, target, sd, least = _outbound(judged, one)
        if flown is not None and target is not None and flown - 2.0 * sd >= times * max(target, least):
            long.append((flown / max(target, least), one, flown, target, sd))
    if not long:
        return None
    _, worst, flown, target, sd = max(long, key=lambda each: each[0])
    numbers = tuple(one.circuit.number for _, one, *_ in long)
    by_length = worst.terms.timed == "length"
    unit = "NM" if by_length else "s"
    said, right = (
        (f"{flown:.1f} NM", f"{target:.1f} NM") if by_length else (f"{flown:.0f} s", f"{target:.0f} s")
    )
    since = "the fix" if by_length else SINCE[worst.terms.clock]
    advice, directions = item_advice(judged, "timing", long[-1][1])
    return Finding(
        "long outbound leg",
        "unsafe",
        numbers,
        flown,
        target,
        None,
        sd,
        unit,
        f"{_on(judged, worst)} you flew outbound for {said} from {since}; {right} was right.",
        judged.lost_points("timing"),
        "timing",
        advice,
        f"outbound leg of {up_to(numbers)}{said} instead of {right}{on_circuits(numbers)}",
        outside=True,
        directions_true_deg=directions,
    )


def _outbound(judged: JudgedHold, one: JudgedCircuit) -> tuple[float | None, float | None, float, float]:
    """Return outbound time or length, its target, their difference's sigma, and the least that counts as target."""
    measures, terms = one.measures, one.terms
    if terms.timed == "length":
        leg = judged.flown.hold.leg
        distance = None if leg is None else leg.distance_nm
        return measures.turn_in_nm, distance, judged.flown.fix_sd_nm or 0.0, 0.0
    if terms.timed == "not judged" or not one.ideal.circuit.closes or terms.still_air_s is None:
        return None, None, 0.0, 0.0
    target, target_sd = one.outbound_target_s
    sd = math.hypot(measures.timed_sd_s or 0.0, target_sd)
    # Where the wind leaves hardly any outbound leg, twice hardly any is no danger.
    return measures.timed_s, target, sd, 0.5 * terms.still_air_s


#: Positions are this good across the radial, nautical miles; with a file's fix nothing else adds to it.
_ACROSS_SD_NM = 0.02


def _beyond_radial(judged: JudgedHold) -> Finding | None:
    """Find inbound turns begun beyond the limiting radial."""
    hold, rule = judged.flown.hold, judged.scoring.limiting_radial
    beyond = []
    for one in judged.flown_out:
        off_deg, out_nm = one.measures.beyond_radial_deg, one.measures.turn_in_nm
        if off_deg is None or out_nm is None or hold.leg is None or hold.leg.fix_dme_nm is None:
            continue
        from_station_nm = abs(hold.leg.fix_dme_nm + (out_nm if hold.leg.towards_station else -out_nm))
        across_sd_nm = math.hypot(_ACROSS_SD_NM, judged.flown.fix_sd_nm or 0.0)
        sd = math.degrees(across_sd_nm / max(from_station_nm, _ACROSS_SD_NM))
        if off_deg - 2.0 * sd > rule.tolerance_deg:
            beyond.append((off_deg, sd, one))
    if not beyond or hold.limiting_radial_true_deg is None:
        return None
    off_deg, sd, worst = max(beyond, key=lambda each: each[0])
    numbers = tuple(one.circuit.number for *_, one in beyond)
    radial = Number(hold.limiting_radial_true_deg, "°", "true").said(judged.variation_deg)
    return Finding(
        "limiting radial",
        rule.severity,
        numbers,
        off_deg,
        0.0,
        rule.tolerance_deg,
        sd,
        "°",
        f"{_on(judged, worst)} you turned inbound {off_deg:.0f}° beyond the limiting radial of {radial}.",
        0.0,
        "",
        f"Turn inbound before you pass the radial of {radial}, whatever the distance.",
        f"inbound turn {up_to(numbers)}{off_deg:.0f}° beyond the limiting radial{on_circuits(numbers)}",
        outside=True,
        directions_true_deg=(hold.limiting_radial_true_deg,),
    )


def _late_turn(judged: JudgedHold) -> Finding | None:
    """Find outbound turns begun later than the designers of holds allow for."""
    allowed, late = judged.regime.allowances, []
    whole_s = allowed.reaction_s + allowed.bank_establishment_s
    for one in judged.circuits:
        turn, delay_s = one.circuit.outbound_turn, one.measures.start_delay_s
        if turn is None or delay_s is None or _crossing_entry(judged, one):
            continue
        sd = (
            turn.start_sd_s**2
            + (3600.0 * (judged.flown.fix_sd_nm or 0.0) / max(one.circuit.tas_kt, 30.0)) ** 2
        ) ** 0.5
        established_s = turn.established_start_s - one.circuit.start_s
        if delay_s - 2.0 * sd > allowed.reaction_s and established_s - 2.0 * sd > whole_s:
            late.append((delay_s, sd, one))
    if not late:
        return None
    rule = judged.scoring.below_standard
    delay_s, sd, worst = max(late, key=lambda each: each[0])
    numbers = tuple(one.circuit.number for *_, one in late)
    often = len(late) >= rule.consistent_share * len(judged.circuits)
    severity: Severity = (
        "below standard" if often or delay_s > rule.beyond_tolerances * whole_s else "improve"
    )
    advice, directions = item_advice(judged, "late turn", late[-1][2])
    return Finding(
        "late turn",
        severity,
        numbers,
        delay_s,
        0.0,
        allowed.reaction_s,
        sd,
        "s",
        f"{_on(judged, worst)} you began the outbound turn {delay_s:.0f} s after the fix; "
        f"{allowed.reaction_s:.0f} s to react are allowed for.",
        0.0,
        "",
        advice,
        f"outbound turn {up_to(numbers)}{delay_s:.0f} s late{on_circuits(numbers)}",
        outside=True,
        directions_true_deg=directions,
    )


def _crossing_entry(judged: JudgedHold, one: JudgedCircuit) -> bool:
    """Return whether a direct entry came across the course: then flying on a little before the turn is right."""
    if judged.entry is None or one is not judged.circuits[0] or judged.entry.entry.flown != "direct":
        return False
    course = judged.flown.hold.inbound_course_true_deg
    return abs(wrap180(judged.entry.entry.arrival_heading_deg - course)) > _ALONG_DEG


#: An arrival within this of the inbound course turns outbound as any other circuit does, degrees.
_ALONG_DEG = 25.0
