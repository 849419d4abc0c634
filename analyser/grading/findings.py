"""All that is found on a hold, gathered at one place into one ranked list: whatever is said is read from it."""

from __future__ import annotations

from dataclasses import replace

from analyser.circuits.flown import FlownHold
from analyser.grading.finding import Capped, Finding, ranked, unmeasured
from analyser.grading.finding_advice import advice_findings
from analyser.grading.finding_entry import entry_findings
from analyser.grading.finding_items import item_findings
from analyser.grading.finding_keeping import keeping_findings
from analyser.grading.finding_learning import learning_findings
from analyser.grading.finding_limits import WRONG_SIDE, hand_findings, lap_findings
from analyser.grading.judged import JudgedHold
from analyser.grading.wording import listed, on_circuits
from analyser.rules.scoring import Cap, Caps, GradeStep


def concluded(judged: JudgedHold, others: tuple[Finding, ...] = ()) -> JudgedHold:
    """Gather the findings of a hold, and hold points and grade down to what they allow.

    Parameters
    ----------
    judged : JudgedHold
        With scores, parts and advice; its points are those of the parts.
    others : tuple of Finding
        From outside judging: the holding area.
    """
    found = [*hand_findings(judged), *others, *keeping_findings(judged), *item_findings(judged)]
    found += [*lap_findings(judged), *entry_findings(judged)]
    if any(one.kind == "speed limit" for one in found):
        # Beyond the limit is what is wrong with that speed.
        found = [one for one in found if one.kind not in ("speed", "area speed", "arrival speed")]
    found += advice_findings(judged, {one.kind for one in found})
    found += [*learning_findings(judged), *_unjudged(judged)]
    outside = any(score.verdict == "outside" for one in judged.circuits for score in one.scores.values())
    bad = any(one.outside or one.severity in ("unsafe", "below standard") for one in found)
    if not outside and not bad and _mostly_judged(judged):
        words = "Every item judged in the circuits lay within its tolerance."
        if judged.flown.fix_sd_nm is not None:
            words = f"{words[:-1]}, held against a fix and a course inferred from this flight."
            if judged.altitude_kept is not None and not judged.altitude_kept.given:
                words = words.replace("a fix and a course", "a fix, a course and levels")
        found.append(unmeasured("within", "good", (), words))
    return _capped(replace(judged, points=judged.weighed_points, findings=ranked(found), capped=None))


def _unjudged(judged: JudgedHold) -> list[Finding]:
    """Find that too little could be judged for points, or that nobody can say what each fault cost; and why."""
    if judged.weighed_points is None:
        none = all(score.points is None for one in judged.circuits for score in one.scores.values())
        what = "Nothing" if none else "Too little"
        words = (
            f"{what} of this hold could be judged{'' if none else ' for points'}: {_why_unjudged(judged)}."
        )
        return [unmeasured("not judged", "improve", (), words)]
    if judged.circuits and not any(one.budget is not None for one in judged.circuits):
        words = f"What each fault cost cannot be said: {judged.circuits[0].no_budget}."
        return [unmeasured("no budget", "good", (), words)]
    return []


#: How the note of an item begins that was known too badly, or not recorded; and what is said of all such items.
_COARSE, _HOLE = "known only to", "the log has a hole"


def _why_unjudged(judged: JudgedHold) -> str:
    """Say why so little was judged: what the recording is too coarse for, where it has holes, what else there is."""
    unjudged = [
        (one.circuit.number, item, score)
        for one in judged.circuits
        for item, score in one.scores.items()
        if score.points is None
    ]
    said = []
    coarse = list(dict.fromkeys(item for _, item, score in unjudged if score.note.startswith(_COARSE)))
    if coarse:
        worst = next(
            score for _, item, score in unjudged if item == coarse[0] and score.note.startswith(_COARSE)
        )
        names = [item.replace("_", " ") for item in coarse]
        said.append(f"{_what_is_rough(judged.flown)} for {listed(names)} ({names[0]} is {worst.note})")
    holes = sorted({number for number, _, score in unjudged if score.note.startswith(_HOLE)})
    if holes:
        said.append(f"the recording has a hole{on_circuits(holes)}")
    if not said:
        notes = [score.note for _, _, score in unjudged]
        said.append(max(sorted(set(notes)), key=notes.count, default="no circuit was flown to its end"))
    return "; ".join(said)


def _what_is_rough(flown: FlownHold) -> str:
    if flown.other_end is not None:
        return "which end of the racetrack is the fix cannot be told, and that is too little"
    if flown.given:
        return "the recording is too coarse"
    return "the recording, and what it tells of fix and course, is too coarse"


def _capped(judged: JudgedHold) -> JudgedHold:
    if judged.points is None:
        return judged
    caps, points, grades = judged.scoring.caps, judged.points, judged.scoring.grade
    holding = [(cap, one) for one in judged.findings if (cap := _cap(caps, one)) is not None]
    lowest = min(holding, key=lambda pair: pair[0].points, default=None)
    grade: GradeStep | None = grades.step(points)
    for cap, _ in holding:
        grade = grades.at_most(grade or grades.steps[0], cap.highest_grade)
    why = _ungraded(judged)
    if why:
        grade = None
    # What rounds to the cap was not held down by it.
    if lowest is None or points < lowest[0].points + 0.5:
        return replace(judged, grade=grade, ungraded=why)
    cap, one = lowest
    capped = Capped(points, cap.points, one.brief or one.sentence, one.kind)
    return replace(judged, points=cap.points, grade=grade, capped=capped, ungraded=why)


def _ungraded(judged: JudgedHold) -> str:
    """Say why no grade is proposed: a hold is graded for its entry and its wind correction, or not at all."""
    missing = []
    wrong_hand = judged.flown.hold is not judged.given
    if judged.entry is not None and judged.entry.verdict == "not judged" and not wrong_hand:
        missing.append("the entry")
    scores = [one.scores["wind_correction"] for one in judged.circuits]
    if scores and all(score.points is None for score in scores):
        missing.append("the wind correction")
    if not missing:
        return ""
    which = " and ".join(missing)
    why = f"no grade is proposed: {which} could not be judged"
    if judged.flown.other_end is not None:
        why += ", for which end of the racetrack is the fix cannot be told; a hold file settles it"
    elif judged.flown.course_sd_deg is not None:
        why += f", for the course is inferred to ±{2.0 * judged.flown.course_sd_deg:.0f}° only; a hold file settles it"
    return why


def _cap(caps: Caps, one: Finding) -> Cap | None:
    if one.severity == "unsafe":
        return caps.wrong_side if one.kind == WRONG_SIDE else caps.unsafe
    if one.severity == "below standard":
        return caps.below_standard
    return caps.outside if one.severity == "improve" and one.outside else None


def _mostly_judged(judged: JudgedHold) -> bool:
    """Return whether most of every circuit could be judged."""
    circuits = [part for part in judged.parts if part.kind == "circuit"]
    return bool(circuits) and all(part.weight > part.unjudged for part in circuits)
