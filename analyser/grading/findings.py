"""All that is found on a hold, gathered at one place into one ranked list: whatever is said is read from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyser.circuits.flown import FlownHold
from analyser.grading.finding import Capped, Finding, Severity, Told, ranked
from analyser.grading.finding_advice import advice_findings, learning_findings, planned_advice
from analyser.grading.finding_items import item_findings
from analyser.grading.finding_limits import steep_bank
from analyser.grading.finding_ways import WRONG_SIDE, entry_findings, hand_findings, lap_findings
from analyser.grading.grading_thresholds import FINDING
from analyser.grading.judged import JudgedHold, on_these
from analyser.grading.keeping import Excursion, Keeping
from analyser.grading.lap import course_doubt
from analyser.grading.score import Numbers
from analyser.grading.terms import LEG_UNKNOWN
from analyser.grading.wording import clock_words, listed, on_circuits, up_to
from analyser.rules.graded_items import item_of
from analyser.rules.scoring import ITEMS, Cap, Caps, GradeStep


def _kept(
    judged: JudgedHold,
    kept: Keeping,
    item: str,
    severity: Severity,
    words: str,
    numbers: Numbers,
    brief: str,
    told: Told,
) -> Finding:
    """Find that a level or a speed was not kept: the item is called so, or ``"altitude"``."""
    kind = "level" if item == "altitude" else item
    cost = judged.lost_points(item)
    on = _circuits(kept.excursions)
    found = Finding(kind, severity, on, words, *numbers, *told, cost_points=cost, item=item, brief=brief)
    return replace(found, outside=True)


def _level(judged: JudgedHold) -> Finding | None:
    kept = judged.altitude_kept
    if kept is None or not kept.excursions:
        return None
    if kept.nothing_held or kept.drifted:
        return _nothing_held(judged, kept, "altitude", "ft")
    worst = kept.worst
    level = f"{worst.reference:,.0f} ft {'of the hold file' if kept.given else 'you held'}"
    value = kept.farthest
    off, (way, brief_way) = f"{abs(value):,.0f} ft", ("above", "high") if value > 0 else ("below", "low")
    unsafe = _is_unsafe_level(judged, kept)
    severity = "unsafe" if unsafe else _severity(judged, kept)
    advice = f"Hold {worst.reference:,.0f} ft within ±{kept.tolerance:.0f} ft"
    if kept.steady_off is not None:
        doubt = "" if unsafe else ", or its altitude is not what the altimeter showed"
        words = f"By the log you flew {off} {way} the {level} throughout{doubt}."
        brief = f"{off} {brief_way} throughout"
        of_the_log_ft = judged.scoring.unsafe.steady_offset_share * abs(worst.reference)
        if severity == "below standard" and abs(value) - 2.0 * kept.sd <= of_the_log_ft:
            # As much may be the log's: it is said, and not held against the pilot.
            severity = "improve"
        advice += "."
    else:
        where = _where(judged, worst)
        words = f"You went {off} {way} the {level}{where}{_how_long(kept, 'ft')}."
        brief = f"{up_to(worst.circuits)}{off} {brief_way}{where}"
        advice += f": {_STEADILY}."
    numbers = (worst.reference + value, worst.reference, kept.tolerance, kept.sd, "ft")
    return _kept(judged, kept, "altitude", severity, words, numbers, brief, Told(advice))


_STEADILY = "note every departure, and be back within seconds"


def _level_change(judged: JudgedHold) -> Finding | None:
    """Find that the flight climbed or sank where nobody said to which level: it may have been cleared, or not."""
    levels, motion, flown, kept = judged.levels, judged.flown.motion, judged.flown, judged.altitude_kept
    if kept is not None and kept.excursions and (kept.nothing_held or kept.drifted):
        # Said already, with all that was flown between.
        return None
    span = motion.span(flown.start_s, flown.end_s)
    altitude, held = motion.altitude_ft[span], levels.reference_ft[span]
    altitude, held = altitude[np.isfinite(altitude)], held[np.isfinite(held)]
    if levels.given or not levels.moved:
        return None
    steps = held[np.flatnonzero(np.diff(held, prepend=np.nan) != 0.0)]
    for before, between, after in zip(steps, steps[1:], steps[2:], strict=False):
        far = abs(between - before) >= judged.scoring.unsafe.level_off_ft
        if far and abs(after - before) <= judged.standard.altitude.tolerance_ft:
            words = (
                f"You left {before:,.0f} ft for {between:,.0f} ft and came back. No level was given, so it was not "
                "judged; if nobody cleared it, the level was left unsafely."
            )
            return Finding("level left", "improve", (), words)
    words = (
        f"You flew between {altitude.min():,.0f} ft and {altitude.max():,.0f} ft, and what lies between levels was not "
        "judged: it was taken for cleared, for no level was given. If it was not, give the level in a hold file."
    )
    return Finding("level change", "good", (), words)


def _nothing_held(judged: JudgedHold, kept: Keeping, item: str, unit: str) -> Finding:
    """Find that no level or speed was given and none was held: then nobody can say which one was left."""
    what = "level" if item == "altitude" else item
    settles = "the hold file does not say" if judged.flown.given else "a hold file settles"
    between = f"between {kept.lowest:,.0f} {unit} and {kept.highest:,.0f} {unit}"
    words = (
        f"You flew {between} and held no {what}{'' if kept.drifted else ' for half of the hold'}; which was asked for, "
        f"{settles}."
    )
    numbers = (kept.highest - kept.lowest, 0.0, kept.tolerance, kept.sd, unit)
    told = Told(f"Hold one {what} within ±{kept.tolerance:.0f} {unit}: {_STEADILY}.")
    brief = f"no {what} held: {between}"
    return _kept(judged, kept, item, _severity(judged, kept), words, numbers, brief, told)


def _is_unsafe_level(judged: JudgedHold, kept: Keeping) -> bool:
    """Return whether the level was left beyond doubt as far, or as far for as long, as is unsafe."""
    rule = judged.scoring.unsafe
    worst = kept.worst
    if kept.steady_off is not None:
        least = max(rule.level_off_ft, rule.steady_offset_share * abs(worst.reference))
        return abs(kept.steady_off) - 2.0 * kept.sd >= least
    if abs(worst.worst) - 2.0 * kept.sd >= rule.level_off_ft:
        return True
    return any(
        abs(one.worst) > rule.level_tolerances * kept.tolerance + 2.0 * kept.sd
        and one.far_s(rule.level_tolerances) >= rule.level_for_s
        for one in kept.excursions
    )


def _severity(judged: JudgedHold, kept: Keeping) -> Severity:
    """Return "below standard" where the tolerance was left consistently, or not put right promptly.

    What a rough log makes of a steady hand by itself is taken off.
    """
    rule = judged.scoring.below_standard
    beyond = 1.0 if 2.0 * kept.sd <= kept.tolerance else 1.0 + 2.0 * kept.sd / kept.tolerance
    if any(one.far_s(beyond) > rule.put_right_within_s for one in kept.excursions):
        return "below standard"
    share = len(_circuits(kept.excursions)) / max(len(judged.circuits), 1)
    return "below standard" if len(judged.circuits) > 1 and share >= rule.consistent_share else "improve"


def _circuits(excursions: Sequence[Excursion]) -> tuple[int, ...]:
    return tuple(sorted({number for one in excursions for number in one.circuits}))


def _where(judged: JudgedHold, one: Excursion) -> str:
    first = judged.circuits[0].circuit.start_s if judged.circuits else one.end_s
    entered = one.start_s < first - 1.0 or not one.circuits
    words = [" in the entry"] * entered + [on_circuits(one.circuits)] * bool(one.circuits)
    return " and".join(words)


def _how_long(kept: Keeping, unit: str) -> str:
    """Say the time outside and the time to come back."""
    within = f"±{kept.tolerance:.0f} {unit}"
    if len(kept.excursions) == 1:
        (one,) = kept.excursions
        lasted = clock_words(one.duration_s)
        return f", outside {within} for {lasted}" + ("" if one.came_back else " and not back before the end")
    total = clock_words(sum(one.duration_s for one in kept.excursions))
    longest = clock_words(max(one.duration_s for one in kept.excursions))
    times = "twice" if len(kept.excursions) == 2 else f"{len(kept.excursions)} times"
    return f", and were outside {within} {times}: for {total} in all, {longest} at the longest"


def _limit(judged: JudgedHold) -> Finding | None:
    """Find flight surely beyond the maximum holding speed."""
    longest = judged.scoring.unsafe.over_limit_for_s
    where = [one for one in judged.circuits if one.over_limit_s > longest and one.most_kias is not None]
    over = [(one.most_kias or 0.0, one.terms.limit_kias) for one in where]
    arrival = judged.entry.arrival if judged.entry is not None else None
    entered = ""
    if arrival is not None and arrival.over_limit_s > longest:
        over.append((arrival.most_kias, arrival.limit_kias))
        entered = f" in the entry{' and' if where else ''}"
    if not over:
        return None
    most_kias, limit = max(over, key=lambda one: one[0] - one[1])
    return judged.fault(
        "speed limit",
        "unsafe",
        where,
        f"You flew up to {most_kias:.0f} kt indicated{entered}{on_these(where)}; the maximum holding speed here is "
        f"{limit:.0f} kt.",
        (most_kias, limit, None, None, "kt"),
        f"{up_to(where)}{most_kias - limit:.0f} kt above the maximum holding speed{entered}",
        Told(f"Slow down to {limit:.0f} kt or less before the fix, and stay there."),
        item="speed",
    )


def _speed(judged: JudgedHold) -> Finding | None:
    kept = judged.speed_kept
    if kept is None or not kept.excursions:
        return None
    rough, sure_off = 2.0 * kept.sd > kept.tolerance, kept.tolerance + 2.0 * kept.sd
    if kept.nothing_held and (not rough or kept.highest - kept.lowest > 2.0 * sure_off):
        return _nothing_held(judged, kept, "speed", "kt")
    kept = replace(kept, excursions=tuple(one for one in kept.excursions if one.circuits) or kept.excursions)
    worst, value = kept.worst, kept.farthest
    sure = abs(value) > sure_off
    if not sure and (rough or not any(one.scores["speed"].verdict == "outside" for one in judged.circuits)):
        # A rough log makes such a swing by itself.
        return None
    off, (way, brief_way) = f"{abs(value):.0f} kt", ("faster", "fast") if value > 0 else ("slower", "slow")
    kind = "" if judged.speed_is_indicated else " true"
    speed = f"the {worst.reference:.0f} kt{kind} {'of the hold file' if kept.given else 'you held'}"
    if kept.steady_off is not None:
        words, brief = f"You flew {off} {way} than {speed} throughout", f"{off} {brief_way} throughout"
    else:
        where = _where(judged, worst)
        # What a speed that was derived shows of a short swing is less than was flown.
        short = worst.duration_s < FINDING.swing_s and judged.flown.motion.obtained.get("ias") != "logged"
        words = f"You flew {f'{off} or more' if short else f'up to {off}'} {way} than {speed}{where}"
        words += _how_long(judged.speed_kept or kept, "kt") if sure and not rough else ""
        brief = f"{up_to(worst.circuits)}{off} {brief_way}{where}"
    if rough or not sure:
        words += f", by a log that knows it to ±{2.0 * kept.sd:.1f} kt only"
    words += "."
    # Another speed throughout changes what is right for bank, heading and times: then all of it is planned together.
    told = planned_advice(judged, "speed")
    if not told.advice:
        steady = f"Hold {worst.reference:.0f} kt{kind} within ±{kept.tolerance:.0f} kt all the way round."
        told = Told(steady)
    severity = _severity(judged, judged.speed_kept or kept) if sure else "improve"
    if kept.given and -value - 2.0 * kept.sd >= (1.0 - judged.scoring.unsafe.slow_share) * worst.reference:
        severity = "unsafe"
        words += " Where the speed to hold is 1.3 times the stalling speed, that is below the stall."
    numbers = (worst.reference + value, worst.reference, kept.tolerance, kept.sd, "kt")
    return replace(_kept(judged, kept, "speed", severity, words, numbers, brief, told), outside=sure)


def concluded(judged: JudgedHold, others: tuple[Finding, ...] = ()) -> JudgedHold:
    """Gather the findings of a hold, and hold points and grade down to what they allow.

    ``others`` are from outside judging: the holding area.
    """
    kept = [each(judged) for each in (_level, _level_change, steep_bank, _limit, _speed)]
    found = [*hand_findings(judged), *others, *(one for one in kept if one is not None)]
    found += [*item_findings(judged), *lap_findings(judged), *entry_findings(judged)]
    if any(one.kind == "speed limit" for one in found):
        # Beyond the limit is what is wrong with that speed.
        found = [one for one in found if one.kind not in ("speed", "area speed", "arrival speed")]
    steep = {number for one in found if one.kind == "steep bank" for number in one.circuits}
    found = [one for one in found if one.kind != "bank" or not steep.issuperset(one.circuits)]
    named = {name for one in found for name in (one.kind, one.item)}
    found += advice_findings(judged, named | ({"late turn"} if "early turn" in named else set()))
    found += [*learning_findings(judged), *_unjudged(judged)]
    outside = any(score.verdict == "outside" for one in judged.circuits for score in one.scores.values())
    bad = any(one.outside or one.severity in ("unsafe", "below standard") for one in found)
    parts = [part for part in judged.parts if part.kind == "circuit"]
    mostly_judged = bool(parts) and all(part.weight > part.unjudged for part in parts)
    if not outside and not bad and mostly_judged:
        words = "Every item judged in the circuits lay within its tolerance."
        if judged.flown.fix_sd_nm is not None:
            words = f"{words[:-1]}, held against a fix and a course inferred from this flight."
            if judged.altitude_kept is not None and not judged.altitude_kept.given:
                words = words.replace("a fix and a course", "a fix, a course and levels")
        found.append(Finding("within", "good", (), words))
    # Flying beside the fix usually comes of other faults; where it cost most it brings others about.
    budgets = [one.budget for one in judged.circuits if one.budget is not None]
    worst = max(budgets[-1].costs, key=lambda cost: cost.size_nm).cause if budgets else ""
    findings = ranked(found, ("fix passage",) if worst == "fix_crossing" else ())
    return _capped(replace(judged, points=judged.weighed_points, findings=findings, capped=None))


def _unjudged(judged: JudgedHold) -> list[Finding]:
    """Find that too little could be judged for points, or that nobody can say what each fault cost; and why."""
    if judged.weighed_points is None:
        none = all(score.points is None for one in judged.circuits for score in one.scores.values())
        what = "Nothing" if none else "Too little"
        words = (
            f"{what} of this hold could be judged{'' if none else ' for points'}: {_why_unjudged(judged)}."
        )
        return [Finding("not judged", "improve", (), words)]
    found = []
    untimed = tuple(one.number for one in judged.circuits if one.terms.untimed == LEG_UNKNOWN)
    if untimed:
        words = f"The length of the legs was not judged{on_circuits(untimed)}: {LEG_UNKNOWN}."
        found.append(Finding("leg unknown", "improve", untimed, words))
    else:
        found += _partly_judged(judged)
    if judged.circuits and not any(one.budget is not None for one in judged.circuits):
        words = f"What each fault cost cannot be said: {judged.circuits[0].no_budget}."
        found.append(Finding("no budget", "good", (), words))
    return found


def _partly_judged(judged: JudgedHold) -> list[Finding]:
    """Find circuits of which little could be judged, and items that were judged on none, for holes in the log."""
    little = {part.circuit for part in judged.parts if part.kind == "circuit" and part.weight < part.unjudged}
    circuits = [one.circuit for one in judged.circuits]
    hidden = tuple(c.number for c in circuits if c.number in little and judged.in_hole(c.start_s, c.end_s))
    said = []
    if hidden:
        said.append(f"Little could be judged{on_circuits(hidden)}: the recording has a hole.")
    never = [
        item_of(item).title.lower()
        for item in ITEMS
        if circuits and all(one.scores[item].note.startswith(_HOLE) for one in judged.circuits)
    ]
    if never and len(hidden) < len(circuits):
        said.append(f"Not judged on any circuit, for holes in the recording: {listed(never)}.")
    return [Finding("hole", "good", hidden, " ".join(said))] if said else []


#: How the note of an item begins that was known too badly, or not recorded; and what is said of all such items.
_COARSE, _HOLE = "known only to", "the log has a hole"


def _why_unjudged(judged: JudgedHold) -> str:
    """Say why so little was judged: what the recording is too coarse for, where it has holes, what else there is."""
    doubt = course_doubt(judged.flown.course_sd_deg)
    unjudged = [
        (one.number, item, score)
        for one in judged.circuits
        for item, score in one.scores.items()
        if score.points is None and not (doubt and item in _LEANS_ON_THE_HOLD)
    ]
    # What could be judged on most circuits is not what was missing.
    often = {
        item for item in ITEMS if 2 * sum(item == each for _, each, _ in unjudged) >= len(judged.circuits)
    }
    unjudged = [each for each in unjudged if each[1] in often] or unjudged
    said = [doubt] if doubt else []
    coarse = list(dict.fromkeys(item for _, item, score in unjudged if score.note.startswith(_COARSE)))
    if coarse:
        worst = next(
            score for _, item, score in unjudged if item == coarse[0] and score.note.startswith(_COARSE)
        )
        names = [item.replace("_", " ") for item in coarse]
        rough = "the recording is too coarse" if doubt else _what_is_rough(judged.flown)
        said.append(f"{rough} for {listed(names)} ({names[0]} is {worst.note})")
    holes = sorted({number for number, _, score in unjudged if score.note.startswith(_HOLE)})
    if holes:
        said.append(f"the recording has a hole{on_circuits(holes)}")
    if not said:
        notes = [score.note for _, _, score in unjudged]
        said.append(max(sorted(set(notes)), key=notes.count, default="no circuit was flown to its end"))
    return "; ".join(said)


#: What cannot be judged without a fix and a course; the rest a recording alone may tell.
_LEANS_ON_THE_HOLD = ("timing", "wind_correction", "track")


def _what_is_rough(flown: FlownHold) -> str:
    if not flown.given:
        return "the recording, and what it tells of fix and course, is too coarse"
    turns = [turn for one in flown.circuits for turn in (one.outbound_turn, one.inbound_turn)]
    instants_s = [max(turn.start_sd_s, turn.end_sd_s) for turn in turns if turn is not None]
    fine = max([flown.motion.sample_s, *instants_s]) <= FINDING.fine_s
    return "speed or wind changed too much" if fine else "the recording is too coarse"


def _capped(judged: JudgedHold) -> JudgedHold:
    caps, points, grades = judged.scoring.caps, judged.points, judged.scoring.grade
    holding = [(cap, one) for one in judged.findings if (cap := _cap(caps, one)) is not None]
    unsafe = any(one.severity == "unsafe" for one in judged.findings)
    if points is None:
        # What was surely unsafe is graded so, however little else could be judged.
        worst = grades.at_most(grades.steps[0], caps.unsafe.highest_grade)
        return replace(judged, grade=worst) if unsafe else judged
    lowest = min(holding, key=lambda pair: pair[0].points, default=None)
    grade: GradeStep | None = grades.step(points)
    for cap, _ in holding:
        grade = grades.at_most(grade or grades.steps[0], cap.highest_grade)
    # What was surely unsafe is graded so, whatever else could not be judged.
    why = "" if unsafe else _ungraded(judged)
    judged = replace(judged, grade=None if why else grade, ungraded=why)
    # What rounds to the cap was not held down by it.
    if lowest is None or points < lowest[0].points + 0.5:
        return judged
    cap, one = lowest
    return replace(
        judged, points=cap.points, capped=Capped(points, cap.points, one.brief or one.sentence, one.kind)
    )


def _ungraded(judged: JudgedHold) -> str:
    """Say why no grade is proposed: a hold is graded for its entry and its wind correction, or not at all."""
    missing = []
    if judged.entry is not None and judged.entry.verdict == "not judged":
        missing.append("the entry")
    flown = [one for one in judged.circuits if one.has_leg]
    if flown and all(one.scores["wind_correction"].points is None for one in flown):
        missing.append("the wind correction")
    if not missing:
        return ""
    which = " and ".join(missing)
    known_deg = judged.standard.heading.tolerance_deg
    doubt = course_doubt(judged.flown.course_sd_deg, known_deg) if judged.flown.leg_known else LEG_UNKNOWN
    return f"no grade is proposed: {which} could not be judged" + (f", for {doubt}" if doubt else "")


def _cap(caps: Caps, one: Finding) -> Cap | None:
    if one.severity == "unsafe":
        return caps.wrong_side if one.kind == WRONG_SIDE else caps.unsafe
    if one.severity == "below standard":
        return caps.below_standard
    return caps.outside if one.severity == "improve" and one.outside else None
