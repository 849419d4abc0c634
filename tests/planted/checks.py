"""Everything that is said of a flight, checked against what was truly flown, and against what else is said."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.debrief import HoldDebrief
from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedCircuit
from analyser.pages.circuit_views import COLUMNS, circuit_rows
from analyser.rules.scoring import ITEMS
from analyser.schema.debrief_file import WrittenCircuit
from tests.flights.pilot import fold
from tests.flights.truth import TrueCircuit, axes
from tests.planted import truths
from tests.planted.fly import Flown
from tests.planted.right import Right, right_circuit

#: Beside two sigma and the rounding of what is said, definitions of the program and of the truth may differ by this.
SLACK = {"s": 1.5, "°": 1.2, "kt": 1.5, "ft": 20.0, "NM": 0.05}
ROUNDED = {"s": 0.5, "°": 0.5, "kt": 0.5, "ft": 0.5, "NM": 0.05}


@dataclass(frozen=True)
class Check:
    """One number, side or word that was said, and whether it was true."""

    what: str
    said: Any
    true: Any
    good: bool
    first: bool = False


#: A closest approach that lies nearer to the perpendicular through the fix passed it, metres: a second's way at 80 kt.
PASSED_M = 40.0


@dataclass(frozen=True)
class Told:
    """A debriefed hold beside its truth."""

    flown: Flown
    hold: HoldDebrief
    document: dict[str, Any]

    def circuits(self, numbers: tuple[int, ...]) -> list[tuple[JudgedCircuit, TrueCircuit]]:
        """Pair judged circuits with true ones, by the time of their inbound turn."""
        pairs = []
        for one in self.hold.judged.circuits:
            if one.circuit.number in numbers or not numbers:
                near = min(self.flown.truth.circuits, key=lambda true: abs(true.end_s - one.circuit.end_s))
                if abs(near.end_s - one.circuit.end_s) < 20.0:
                    pairs.append((one, near))
        return pairs

    def right(self, true: TrueCircuit) -> Right:
        """Return the right circuit for the wind of a true one."""
        scene, side = self.flown.scene, self.flown.truth.side
        leg_s = 60.0 if scene.level_ft <= 14_000.0 else 90.0
        return right_circuit(true, course_deg=scene.course_deg, side=side, rules=scene.rules, leg_s=leg_s)

    def advised(self, true: TrueCircuit) -> TrueCircuit:
        """Return a circuit at the airspeed that the advice tells to hold first, where it does."""
        plan = self.hold.judged.next_time
        speeds = [one.advice.fly.value for one in plan.all if one.name == "speed"] if plan is not None else []
        return replace(true, tas_kt=speeds[0]) if speeds else true


def checks(told: Told) -> Iterator[Check]:
    """Check everything that is said of a hold."""
    judged = told.hold.judged
    first = judged.verdict[0]
    for finding in judged.findings:
        stands_first = finding.sentence == first
        for check in _finding(told, finding):
            yield Check(f"{finding.kind}: {check.what}", check.said, check.true, check.good, stands_first)
    yield from _counts(told)
    yield from _lessons(told)
    yield from _shares(told)
    yield from contradictions(told)


def _number(what: str, said: float | None, true: float | None, unit: str, sd: float = 0.0) -> Iterator[Check]:
    if said is None or true is None:
        return
    off = fold(said - true) if unit == "°T" else said - true
    unit = unit[0] if unit == "°T" else unit
    yield Check(what, said, true, abs(off) <= 2.0 * sd + SLACK[unit] + ROUNDED[unit])


def _finding(told: Told, one: Finding) -> Iterator[Check]:
    maker = _MAKERS.get(one.kind)
    if maker is not None:
        yield from maker(told, one)


#: What is said beside a count where an entry cannot be told from a first lap.
_PERHAPS = ", and one more that may have been the entry"


def _counts(told: Told) -> Iterator[Check]:
    said = next(
        (
            words
            for words in told.hold.judged.verdict
            if re.fullmatch(rf"\w+ circuits?({_PERHAPS})?\.", words)
        ),
        None,
    )
    names = ("No", "One", "Two", "Three", "Four", "Five", "Six")
    true = len(told.hold.judged.circuits)
    yield Check("count of circuits", said, true, said is not None and said.startswith(names[true]))
    if told.hold.judged.flown.fix_sd_nm is None and not told.flown.fault.wrong_hand:
        flown = len(told.flown.truth.circuits)
        may_be = (flown, flown - 1) if said is not None and _PERHAPS in said else (flown,)
        yield Check("circuits flown", said, flown, true in may_be)


def _level(told: Told, one: Finding) -> Iterator[Check]:
    judged, kept = told.hold.judged, told.hold.judged.altitude_kept
    assert kept is not None and one.value is not None and one.target is not None
    values = truths.read(told.flown, "altitude_ft", judged.flown.start_s, judged.flown.end_s)
    if not kept.given:
        yield from _level_flown(one, values, kept.tolerance)
        return
    yield Check("level", one.target, told.flown.hold.altitude_ft, one.target == told.flown.hold.altitude_ft)
    error = float(np.median(values - one.target)) if kept.steady_off else truths.farthest(values, one.target)
    yield from _number("error", one.value - one.target, error, "ft", kept.sd)
    said = re.search(r"([\d,]+) ft (above|below)", one.sentence)
    yield Check("side", said and said[2], error, bool(said) and (said[2] == "above") == (error > 0.0))
    true_s = truths.outside_s(values, one.target, kept.tolerance)
    said_s = sum(each.duration_s for each in kept.excursions)
    # A level held near the edge of the tolerance crosses it with every wander of the needle and of the log.
    yield Check("time outside", said_s, true_s, abs(said_s - true_s) <= 12.0 + 0.1 * true_s)


def _level_flown(one: Finding, values: Any, tolerance: float) -> Iterator[Check]:
    """Check what is said of a level that nobody gave: what was held was held, what was met was met."""
    assert one.value is not None and one.target is not None
    between = re.search(r"between (-?[\d,]+) ft and (-?[\d,]+) ft", one.sentence)
    if between is not None:
        for said, true in zip(between.groups(), (values.min(), values.max()), strict=True):
            yield from _number("lowest or highest", float(said.replace(",", "")), float(true), "ft", 5.0)
        centres = np.arange(values.min(), values.max() + 1.0, 10.0)
        most = max(float(np.mean(np.abs(values - centre) <= 0.5 * tolerance)) for centre in centres)
        yield Check("no level held", one.sentence, most, most < 0.5)
        return
    held = float(np.mean(np.abs(values - one.target) <= tolerance + SLACK["ft"]))
    yield Check("level held", one.target, held, held >= 0.3)
    nearest = float(values[np.argmin(np.abs(values - one.value))])
    yield from _number("level met", one.value, nearest, "ft", 5.0)
    said_way = re.search(r"([\d,]+) ft (above|below)", one.sentence)
    way = "above" if one.value > one.target else "below"
    yield Check("side", said_way and said_way[2], way, bool(said_way) and said_way[2] == way)


def _speed(told: Told, one: Finding) -> Iterator[Check]:
    judged, kept = told.hold.judged, told.hold.judged.speed_kept
    if kept is None or one.value is None or one.target is None or not judged.speed_is_indicated:
        return
    values = truths.read(told.flown, "ias_kt", judged.flown.start_s, judged.flown.end_s)
    if kept.given:
        yield Check("speed", one.target, told.flown.hold.speed_kias, one.target == told.flown.hold.speed_kias)
    between = re.search(r"between (\d+) kt and (\d+) kt", one.sentence)
    if between is not None:
        for said, true in zip(between.groups(), (values.min(), values.max()), strict=True):
            yield from _number("slowest or fastest", float(said), float(true), "kt", kept.sd)
        centres = np.arange(values.min(), values.max() + 1.0)
        most = max(float(np.mean(np.abs(values - centre) <= 0.5 * kept.tolerance)) for centre in centres)
        yield Check("no speed held", one.sentence, most, most < 0.5)
        return
    error = float(np.median(values - one.target)) if kept.steady_off else truths.farthest(values, one.target)
    if " or more " in one.sentence and abs(error) > abs(one.value - one.target):
        error = one.value - one.target
    yield from _number("error", one.value - one.target, error, "kt", kept.sd)
    yield Check("side", one.sentence, error, ("faster" in one.sentence) == (error > 0.0))


def _speed_limit(told: Told, one: Finding) -> Iterator[Check]:
    judged = told.hold.judged
    values = truths.read(told.flown, "ias_kt", judged.circuits[0].circuit.start_s, judged.flown.end_s)
    yield from _number("fastest", one.value, float(values.max()), "kt", 1.0)
    level, rules = told.flown.scene.level_ft, told.flown.scene.rules
    # State AIP ENR 1.5 after Table I-6-1-1; AIM 5-3-8 j.2.
    limit = 230.0 if rules == "icao" or level > 6000.0 else 200.0
    yield Check("limit", one.target, limit, one.target == limit)


def _timing(told: Told, one: Finding) -> Iterator[Check]:
    for circuit, true in told.circuits(one.circuits):
        score, terms = circuit.scores["timing"], circuit.terms
        if score.value is None or score.target is None or score.value != one.value:
            continue
        right, sd = told.right(true), score.sd or 0.0
        if terms.timed == "inbound":
            yield from _number("inbound time", score.value, true.inbound_s, "s", sd)
            yield from _number("inbound target", score.target, right.inbound_s, "s", sd)
        else:
            yield from _number("outbound time", score.value, _timed(true, terms.clock), "s", sd)
            asked = 60.0 if terms.timed == "first outbound" else _asked(right, terms.clock)
            yield from _number("outbound target", score.target, asked, "s", sd)


def _timed(true: TrueCircuit, clock: str) -> float | None:
    if clock == "abeam":
        return true.timed_outbound_s if true.abeam_s is not None else None
    return None if true.inbound_turn is None else true.inbound_turn.start_s - true.outbound_turn.end_s


def _asked(right: Right, clock: str) -> float | None:
    return right.from_abeam_s if clock == "abeam" else right.from_wings_s


def _long_outbound(told: Told, one: Finding) -> Iterator[Check]:
    for circuit, true in told.circuits(one.circuits):
        if circuit.measures.timed_s == one.value:
            clock = circuit.terms.clock
            yield from _number("outbound time", one.value, _timed(true, clock), "s", one.sd or 0.0)
            asked = 60.0 if circuit.terms.timed == "first outbound" else _asked(told.right(true), clock)
            yield from _number("outbound target", one.target, asked, "s", one.sd or 0.0)


def _late(told: Told, one: Finding) -> Iterator[Check]:
    for circuit, true in told.circuits(one.circuits):
        if circuit.measures.start_delay_s == one.value:
            yield from _number(
                "late", one.value, true.outbound_turn.start_s - true.start_s, "s", one.sd or 0.0
            )


def _early(told: Told, one: Finding) -> Iterator[Check]:
    for circuit, true in told.circuits(one.circuits):
        if circuit.measures.start_delay_s == -(one.value or 0.0):
            yield from _number("early", one.value, -_late_s(told, true), "s", one.sd or 0.0)


def _late_s(told: Told, true: TrueCircuit) -> float:
    """Return how long after the fix the outbound turn was begun; negative: before.

    Who turns before he has passed it is early by the time that the rest of the way would have taken, at the speed over
    the ground with which he began the turn, which leads him away from it.
    """
    series, truth, begun_s = told.flown.flight.series, told.flown.truth, true.outbound_turn.start_s
    along_m, across_m = axes(series, truth.fix_m, truth.course_deg)

    def at(values: NDArray[np.float64], time_s: float) -> float:
        return float(np.interp(time_s, series["time_s"], values))

    if begun_s >= true.start_s:
        return begun_s - true.start_s
    moved_m = [at(one, begun_s + 1.0) - at(one, begun_s - 1.0) for one in (along_m, across_m)]
    return at(along_m, begun_s) / (0.5 * math.hypot(*moved_m))


def _no_leg(told: Told, one: Finding) -> Iterator[Check]:
    for _, true in told.circuits(one.circuits):
        back = true.inbound_turn
        flown_s = None if back is None else back.start_s - true.outbound_turn.end_s
        yield Check("no leg", one.sentence, flown_s, flown_s is not None and flown_s < 4.0 + SLACK["s"])


def _steep(told: Told, one: Finding) -> Iterator[Check]:
    flown = told.hold.judged.flown
    banks = np.abs(truths.read(told.flown, "bank_deg", flown.start_s, flown.end_s))
    yield from _number("steepest", one.value, float(banks.max()), "°", max(one.sd or 0.0, 1.5))


def _long_entry(told: Told, one: Finding) -> Iterator[Check]:
    factor = told.flown.fault.entry_time_factor
    yield Check("long entry leg", one.sentence, factor, factor > 1.8)


def _leaving(told: Told, one: Finding) -> Iterator[Check]:
    late_s = told.flown.scene.leave_late_s
    if one.value is not None and late_s is not None:
        yield from _number("left late", one.value, late_s, "s", one.sd or 0.0)


def _wind(told: Told, one: Finding) -> Iterator[Check]:
    course = told.flown.scene.course_deg
    for circuit, true in told.circuits(one.circuits):
        score = circuit.scores["wind_correction"]
        if score.value != one.value:
            continue
        right = told.right(true)
        asked, sd = fold(right.outbound_heading_deg - course - 180.0), score.sd or 0.0
        flown = truths.correction_deg(true, course)
        yield from _number("correction", score.value, flown, "°T", sd)
        yield from _number("correction asked", score.target, asked, "°T", sd)
        side = re.search(r"(?:to the|further|too far) (left|right)", one.sentence)
        if side is not None:
            short = fold(asked - flown)
            towards = "right" if ("too far" in one.sentence and short < 0) or short > 0 else "left"
            if "drift correction to the" in one.sentence or "too far" in one.sentence:
                towards = (
                    ("right" if asked > 0 else "left")
                    if "too far" not in one.sentence
                    else ("left" if short > 0 else "right")
                )
            yield Check("side", side[1], towards, side[1] == towards or abs(short) < 2.0 * sd + 1.0)
        said = re.search(r"(\d+)°", one.sentence)
        if said is not None:
            yield from _number("degrees", float(said[1]), abs(fold(asked - flown)), "°", sd)


#: Wandering beyond this, degrees rms, a bank was not held (the tolerance of steadiness).
_UNSTEADY_DEG = 3.0


def _bank(told: Told, one: Finding) -> Iterator[Check]:
    said = re.search(r"(\d+)°(?: on average)? in (both turns|the \w+ turn)", one.sentence)
    pairs = told.circuits(one.circuits)
    if said is None or not pairs:
        return
    parts = ("outbound_turn", "inbound_turn") if said[2] == "both turns" else (said[2][4:].replace(" ", "_"),)
    banks = [
        abs(getattr(true, part).bank_mean_deg) for _, true in pairs for part in parts if getattr(true, part)
    ]
    nearest = min(banks, key=lambda bank: abs(bank - float(said[1])))
    # Of a bank that was not held the mean depends on which part of the turn is called established.
    wander = max(truths.bank_wander_deg(told.flown, true) for _, true in pairs)
    sd = max(one.sd or 0.0, wander if wander > _UNSTEADY_DEG else 0.0)
    yield from _number("bank", float(said[1]), nearest, "°", sd)
    yield from _number("bank asked", one.target, told.right(pairs[0][1]).bank_deg, "°", 0.5)


def _steadiness(told: Told, one: Finding) -> Iterator[Check]:
    for circuit, true in told.circuits(one.circuits):
        if circuit.scores["steadiness"].value == one.value:
            wander = truths.bank_wander_deg(told.flown, true)
            yield from _number("wander", one.value, wander, "°", max(one.sd or 0.0, 0.15 * wander))


def _track(told: Told, one: Finding) -> Iterator[Check]:
    leave_out = told.hold.judged.scoring.track.exclude_within_nm
    for circuit, true in told.circuits(one.circuits):
        if circuit.scores["track"].value == one.value and one.unit == "°":
            rms = truths.course_off_rms_deg(told.flown, true, leave_out)
            yield from _number("off the course", one.value, rms, "°", max(one.sd or 0.0, 0.05 * (rms or 0.0)))


def _fix_passage(told: Told, one: Finding) -> Iterator[Check]:
    for circuit, true in told.circuits(one.circuits):
        if circuit.measures.fix_miss_nm == one.value:
            side = re.search(r"NM (left|right) of", one.sentence)
            across = truths.passed_right_nm(told.flown, true)
            # Left or right of the fix is where it was passed abeam; beside it is how near it was come to.
            miss_nm = true.fix_miss_nm if side is None else abs(across)
            yield from _number("beside the fix", one.value, miss_nm, "NM", one.sd or 0.0)
            if side is not None:
                yield Check(
                    "side of the fix", side[1], across, side[1] == ("right" if across > 0 else "left")
                )


def _entry(told: Told, one: Finding) -> Iterator[Check]:
    asked, flown = truths.asked_entries(told.flown), told.flown.truth.entry
    if told.flown.fault.entry_wrong_way or told.flown.fault.wrong_hand:
        return
    if "right" in one.sentence and "log cannot" not in one.sentence:
        yield Check("right entry", one.sentence, (asked, flown), flown in asked)
    if "asked for" in one.sentence or "recommended" in one.sentence:
        # Where a first circuit to the wrong hand is named beside it, one of the two was flown.
        fault = told.flown.fault
        lap = "first circuit to the wrong hand" in one.sentence and fault.wrong_lap and fault.is_on(1)
        yield Check("wrong entry", one.sentence, (asked, flown), lap or flown not in asked)


def _entry_way(told: Told, one: Finding) -> Iterator[Check]:
    yield Check("turned away", one.sentence, told.flown.fault, told.flown.fault.entry_wrong_way)
    hold_way = "right" if told.flown.truth.side > 0 else "left"
    other = "left" if hold_way == "right" else "right"
    way = hold_way if told.flown.truth.entry == "parallel" else other
    yield Check("way", one.sentence, way, f"turned back to the {way}" in one.sentence)


def _wrong_side(told: Told, one: Finding) -> Iterator[Check]:
    says = "right" if told.flown.scene.side > 0 else "left"
    flew = "left" if says == "right" else "right"
    fault = told.flown.fault
    good = (
        (fault.wrong_hand or fault.wrong_lap)
        and f"says {says}" in one.sentence
        and f"held {flew}" in one.sentence
    )
    yield Check("hands", one.sentence, (says, flew), good)


def _within(told: Told, one: Finding) -> Iterator[Check]:
    """Nothing that is truly far outside may be said to lie within."""
    level, values = told.flown.scene.level_ft, told.hold.judged
    heights = truths.read(told.flown, "altitude_ft", values.flown.start_s, values.flown.end_s)
    inferred = values.flown.fix_sd_nm is not None
    if inferred:
        # Nobody gave the level or the fix: the sentence has to say what it was held against.
        yield Check("held against", one.sentence, "inferred", "inferred from this flight" in one.sentence)
    else:
        yield Check("altitude within", one.sentence, None, abs(truths.farthest(heights, level)) <= 125.0)
    for circuit, true in told.circuits(()):
        late = true.outbound_turn.start_s - true.start_s
        if not inferred:
            yield Check("turn within", one.sentence, late, late <= 13.0 or circuit.circuit.number == 1)
        score = circuit.scores["wind_correction"]
        if score.points is not None and score.tolerance is not None:
            asked = told.right(true).outbound_heading_deg
            off = abs(fold(true.outbound_heading_deg - asked))
            yield Check(
                "heading within", one.sentence, off, off <= score.tolerance + 2.0 * (score.sd or 0.0) + 1.2
            )


def _advised(told: Told, one: Finding) -> Iterator[Check]:
    """Check the number to fly and the number flown of advice that is no fault of its own."""
    for _, true in told.circuits(one.circuits):
        yield from _flown_and_right(told, true, one.kind, one.value, one.target, one.sentence, one.sd or 0.0)


def _flown_and_right(
    told: Told,
    true: TrueCircuit,
    cause: str,
    value: float | None,
    target: float | None,
    words: str,
    sd: float,
) -> Iterator[Check]:
    right = told.right(told.advised(true))
    if cause == "outbound_heading":
        yield from _number("flown heading", value, true.outbound_heading_deg, "°T", 0.5)
        yield from _number("heading to fly", target, right.outbound_heading_deg, "°T", max(sd, 1.0))
    elif cause == "outbound_time" and "NM" not in words:
        clock = "abeam" if "abeam" in words else "wings level"
        yield from _number("flown time", value, _timed(true, clock), "s", max(sd, 0.5))
        yield from _number("time to fly", target, _asked(right, clock), "s", max(sd, 2.0))
    elif cause.endswith("_bank"):
        yield from _number("bank to fly", target, right.bank_deg, "°", 0.5)
    elif cause == "outbound_turn_start":
        yield from _number("late", value, abs(_late_s(told, true)), "s", max(sd, 1.0))


#: What a circuit's own lines hold against what was right, by the item that it is scored as.
_SCORED_AS = {"outbound_heading": "wind_correction", "outbound_time": "timing"}


def _shares(told: Told) -> Iterator[Check]:
    """Check the lines under each circuit's chart of costs: their numbers, and that what they speak of was judged."""
    # With another speed to be held first, what was right for the speed flown is not what the advice says.
    as_flown = replace(told, hold=replace(told.hold, judged=replace(told.hold.judged, next_time=None)))
    inferred = told.hold.judged.flown.course_sd_deg is not None
    for one, true in told.circuits(()):
        for share in one.budget.costs if one.budget is not None else ():
            if (advice := share.advice) is None:
                continue
            cause = share.cause
            item = _SCORED_AS.get(cause, "")
            if inferred and item:
                judged = one.scores[item].points is not None
                yield Check("page: a cost of what is not judged", advice.said(), item, judged)
            sd = (one.scores[item].sd or 0.0) if item else told.hold.judged.flown.fix_sd_nm or 0.0
            if cause == "outbound_turn_start" and (turn := one.circuit.outbound_turn) is not None:
                sd = math.hypot(turn.start_sd_s, 3600.0 * sd / one.circuit.tas_kt)
            said = _flown_and_right(
                as_flown, true, cause, advice.flown.value, advice.fly.value, advice.words, sd
            )
            for check in said:
                yield replace(check, what=f"cost: {cause}: {check.what}")


def _lessons(told: Told) -> Iterator[Check]:
    pairs = {one.circuit.number: true for one, true in told.circuits(())}
    for lesson in told.hold.judged.learning:
        true = pairs.get(lesson.circuit)
        if true is None or lesson.quantity != "outbound_heading":
            continue
        yield from _number("lesson: heading flown", lesson.flown.value, true.outbound_heading_deg, "°T", 0.5)
        if lesson.exact is not None:
            right = told.right(true).outbound_heading_deg
            sd = told.hold.judged.circuits[lesson.circuit - 1].scores["wind_correction"].sd
            yield from _number("lesson: heading asked", lesson.exact.value, right, "°T", max(sd or 0.0, 1.0))


_MAKERS: dict[str, Callable[[Told, Finding], Iterator[Check]]] = {
    "level": _level,
    "speed": _speed,
    "speed limit": _speed_limit,
    "timing": _timing,
    "long outbound leg": _long_outbound,
    "late turn": _late,
    "early turn": _early,
    "no outbound leg": _no_leg,
    "steep bank": _steep,
    "long entry leg": _long_entry,
    "leaving": _leaving,
    "fix passage": _fix_passage,
    "wind_correction": _wind,
    "bank": _bank,
    "steadiness": _steadiness,
    "track": _track,
    "entry": _entry,
    "entry way": _entry_way,
    "wrong side": _wrong_side,
    "within": _within,
    "outbound_heading": _advised,
    "outbound_time": _advised,
    "outbound_turn_bank": _advised,
    "inbound_turn_bank": _advised,
    "outbound_turn_start": _advised,
}


def contradictions(told: Told) -> Iterator[Check]:
    """Check what is said of a hold, on its page and in its file, against what else is said of it."""
    judged, document = told.hold.judged, told.document
    kinds = {one.kind for one in judged.findings}
    outside = {item for one in judged.circuits for item in ITEMS if one.scores[item].verdict == "outside"}
    unjudged = {item for item in ITEMS if all(one.scores[item].points is None for one in judged.circuits)}
    yield Check("page: within, and outside", "within" in kinds, outside, not ("within" in kinds and outside))
    work = judged.work_on_first
    latest = judged.circuits[-1].scores if judged.circuits else {}
    found = {item for item, score in latest.items() if score.verdict == "outside"}
    named = {one.item for one in judged.findings if work is not None and one.advice == work.advice}
    if found and work is not None:
        yield Check(
            "page: work on first", work.kind, found, bool(named & found) or work.severity != "improve"
        )
    for one in judged.findings:
        if one.item in unjudged and one.kind == one.item:
            yield Check("page: of what is not judged", one.kind, unjudged, False)
    for lesson in judged.learning:
        item = {"outbound_time": "timing", "outbound_heading": "wind_correction"}[lesson.quantity]
        yield Check("page: learning of what is not judged", lesson.quantity, unjudged, item not in unjudged)
    right = any(one.sentence == "Your entry was right." for one in judged.findings)
    entry_out = judged.entry is not None and any(
        score is not None and score.verdict == "outside" for score in (judged.entry.angle, judged.entry.time)
    )
    yield Check("page: right entry with an item outside", right, entry_out, not (right and entry_out))
    item_of = {
        "Outbound time": "timing", "Inbound time": "timing", "Outbound heading": "wind_correction",
        "Bank, outbound turn": "bank", "Bank, inbound turn": "bank", "Off course inbound, typically": "track",
        "Altitude, worst": "altitude", "Speed, worst": "speed",
    }  # fmt: skip
    circuits = [WrittenCircuit.from_json(one) for one in document["circuits"]]
    rows = circuit_rows(circuits, document["variation"])
    for (_, cells), one in zip(rows, judged.circuits, strict=True):
        for title, cell in zip(COLUMNS, cells, strict=True):
            item = item_of.get(title)
            if item is not None and cell.outside:
                judged_so = one.scores[item].points is not None
                yield Check(
                    f"page: {title} marked outside", cell.outside, one.scores[item].verdict, judged_so
                )
    if judged.capped is not None:
        yield Check("page: cap", judged.capped.at, judged.points, judged.points == judged.capped.at)
    numbers = [float(one.replace(",", "")) for one in re.findall(r"(\d[\d,]*) kt", " ".join(judged.verdict))]
    yield Check("page: speeds that can be", numbers, None, all(one < 700.0 for one in numbers))
