"""Findings on the entry: the sector, the way it was turned, its track and time."""

from __future__ import annotations

from dataclasses import replace

from analyser.grading.entry_judged import Arrival, JudgedEntry
from analyser.grading.finding import Finding, unmeasured
from analyser.grading.judged import JudgedHold
from analyser.grading.score import Score
from analyser.grading.wording import with_article
from analyser.holds.entries import entries_by_way


def entry_findings(judged: JudgedHold) -> list[Finding]:
    """Find what is to be said of the entry.

    Returns
    -------
    list of Finding
        Empty where the log begins inside the hold.
    """
    entry = judged.entry
    if entry is None:
        return []
    return [
        _sector(entry, judged),
        *_technique(entry, judged),
        *_turn_back(entry, judged),
        *_arrival(entry.arrival, judged),
    ]


def _arrival(arrival: Arrival, judged: JudgedHold) -> list[Finding]:
    """Find a speed over the fix beyond the limit, and one that came down to it later than the rules ask."""
    found: list[Finding] = []
    limit = arrival.limit_kias
    slow_down = f"Be at {limit:.0f} kt or less"
    over = arrival.verdict == "outside" and arrival.speed_at_fix_kt is not None
    if over and arrival.over_limit_s > judged.scoring.unsafe.over_limit_for_s:
        return found
    if over and arrival.speed_at_fix_kt is not None:
        at_fix = arrival.speed_at_fix_kt
        found.append(
            Finding(
                "arrival speed",
                "improve",
                (),
                at_fix,
                limit,
                None,
                None,
                "kt",
                f"You crossed the fix at {at_fix:.0f} kt indicated; the maximum holding speed here is {limit:.0f} kt.",
                item="entry",
                advice=f"{slow_down} before the fix.",
                brief=f"{at_fix - limit:.0f} kt above the maximum holding speed over the fix",
                outside=True,
            )
        )
    score = arrival.slow_down
    if (
        score is not None
        and score.verdict == "outside"
        and score.value is not None
        and score.target is not None
    ):
        minutes = f"{score.target / 60.0:.0f} minutes"
        when = "over the fix" if over else f"{score.value:.0f} s before the fix"
        found.append(
            Finding(
                "slowing down",
                judged.scoring.slow_down.severity,
                (),
                score.value,
                score.target,
                score.tolerance,
                score.sd,
                "s",
                f"You were above the maximum holding speed of {limit:.0f} kt until {when}; where notice allows it is "
                f"met at least {minutes} before.",
                item="entry",
                advice=f"{slow_down} {minutes} before the fix, where notice allows.",
                brief=f"slowed down {score.value:.0f} s before the fix",
            )
        )
    return found


def _turned_away(entry: JudgedEntry, judged: JudgedHold) -> Finding:
    """Say that it turned to the wrong side, which leads out of the holding area and not back to the fix."""
    assert entry.turn_back_deg is not None
    way = "right" if entry.turn_back_deg > 0.0 else "left"
    right = "left" if way == "right" else "right"
    kind = judged.regime.entry.word(str(entry.turned_away))
    return Finding(
        "entry way",
        "unsafe",
        (),
        entry.turn_back_deg,
        None,
        None,
        None,
        "°",
        f"Your {kind} entry turned back to the {way}, away from the holding side; it turns back {right}.",
        judged.share_of("entry") * (100.0 - (entry.points or 0.0)),
        "entry",
        f"Turn back to the {right} from {with_article(kind)} entry's leg.",
        "entry turned to the wrong side",
        outside=True,
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
    if entry.turned_away is not None:
        return _turned_away(entry, judged)
    asks, on_such = _asks(entry, judged)
    cost = 0.0 if entry.points is None else judged.share_of("entry") * (100.0 - entry.points)
    word = judged.regime.entry.word
    wanted = with_article(" or ".join(map(word, entry.sectors_allowed)))
    flown = (
        "none of the three"
        if entry.entry.flown == "other"
        else f"{with_article(word(entry.entry.flown))} one"
    )
    if entry.verdict == "correct" and not entry.recommended:
        words = f"For the heading at the fix {wanted} entry is recommended; you flew {flown}."
        advice = f"On such a heading {wanted} entry is recommended: work out the sector before the fix."
        return replace(_about(words), severity="improve", cost_points=cost, advice=advice)
    if entry.verdict == "correct":
        outside = any(one is not None and one.verdict == "outside" for one in (entry.angle, entry.time))
        words = "You flew the right entry." if outside else "Your entry was right."
        return _about(words)
    if entry.verdict == "not judged":
        if judged.other_hand and judged.flown.hold is not judged.given:
            return _about("The entry was not judged: it was flown to the other hand's hold.")
        return _about("The log cannot tell whether your entry was right.")
    return unmeasured(
        "entry",
        "below standard",
        (),
        f"{asks} asked for {wanted} entry; you flew {flown}.",
        cost_points=cost,
        item="entry",
        advice=f"{on_such} fly {wanted} entry: work it out before the fix.",
        brief="wrong entry",
        outside=True,
    )


def _turn_back(entry: JudgedEntry, judged: JudgedHold) -> list[Finding]:
    """Find a parallel entry's turn back that was too small to bring the aircraft to the course before the fix."""
    turned, least = entry.turn_back_deg, judged.scoring.entry.minimum_turn_back_deg
    if entry.entry.flown != "parallel" or entry.turned_away is not None or turned is None:
        return []
    # Drift on the way out and on the way in may take some degrees off it.
    slack = judged.standard.heading.tolerance_deg
    if abs(turned) >= least - slack:
        return []
    words = f"You turned back from the parallel entry through {abs(turned):.0f}°; it takes more than {least:.0f}°."
    return [Finding("turn back", "improve", (), abs(turned), least, slack, None, "°", words, item="entry")]


def _technique(entry: JudgedEntry, judged: JudgedHold) -> list[Finding]:
    found = []
    angle = _HEADING if judged.regime.entry.angles_are == "headings" else _TRACK
    time = _LENGTH if entry.time is not None and entry.time.unit == "NM" else _TIME
    for kind, score, (words, advice) in (
        ("entry track", entry.angle, angle),
        ("entry time", entry.time, time),
    ):
        if score is not None and score.verdict == "outside":
            found.append(_outside(kind, score, words, advice))
    return found


_TRACK = (
    "Your entry's track made good {value:.0f}° from the outbound course; "
    "{target:.0f}° (±{tolerance:.0f}°) was right.",
    "On the entry's outbound leg make good a track {target:.0f}° from the outbound course.",
)
_HEADING = (
    "Your entry's heading lay {value:.0f}° from the outbound course; "
    "{target:.0f}° (±{tolerance:.0f}°) was right.",
    "Turn to a heading {target:.0f}° from the outbound course for the entry's outbound leg.",
)
_LENGTH = (
    "Your entry's outbound leg ended {value:.1f} NM out; {target:.1f} NM (±{tolerance:.1f}) was right.",
    "End the entry's outbound leg {target:.1f} NM out.",
)
_TIME = (
    "Your entry's outbound leg took {value:.0f} s; {target:.0f} s (±{tolerance:.0f}) was right.",
    "Fly the entry's outbound leg for {target:.0f} s in this wind.",
)


def _outside(kind: str, score: Score, words: str, advice: str) -> Finding:
    sentence = words.format(value=score.value, target=score.target, tolerance=score.tolerance)
    return Finding(
        kind,
        "improve",
        (),
        score.value,
        score.target,
        score.tolerance,
        score.sd,
        score.unit,
        sentence,
        item="entry",
        advice=advice.format(target=score.target),
        brief=f"{kind} outside its tolerance",
        outside=True,
    )


def _about(sentence: str) -> Finding:
    return unmeasured("entry", "good", (), sentence, item="entry")
