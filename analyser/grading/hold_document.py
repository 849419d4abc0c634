"""A judged hold's entry, findings, learning and leaving as they are written in the debrief file."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.grading.circuit_document import written_number, written_score
from analyser.grading.entry_judged import Arrival, Interception, JudgedEntry
from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedHold
from analyser.grading.keeping import Excursion
from analyser.grading.learning import Lesson
from analyser.grading.timing import Departure, Leaving
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import TurnIn
from analyser.schema.debrief_file import (
    WrittenArrival,
    WrittenEntry,
    WrittenExcursion,
    WrittenFinding,
    WrittenInterception,
    WrittenLeaving,
    WrittenLesson,
    WrittenPath,
    WrittenPlan,
    WrittenShortened,
    WrittenTurnIn,
)
from analyser.schema.plain_data import DECIMALS, directions, number, thousandths


def written_entry(judged: JudgedEntry | None) -> WrittenEntry | None:
    """Write the entry; None where the log begins inside the hold."""
    if judged is None:
        return None
    entry = judged.entry
    path = WrittenPath(east_nm=thousandths(judged.ideal_east_nm), north_nm=thousandths(judged.ideal_north_nm))
    return WrittenEntry.of(
        judged,
        entry,
        arrival_heading_true=entry.arrival_heading_deg,
        arrival_heading_sd=entry.arrival_heading_sd_deg,
        note=judged.note or None,
        angle=written_score(judged.angle) if judged.angle else None,
        time=written_score(judged.time) if judged.time else None,
        turn_back=judged.turn_back_deg,
        interception=_interception(judged.interception),
        arrival=_arrival(judged.arrival),
        ideal_path=path if path.east_nm else None,
    )


def _interception(one: Interception | None) -> WrittenInterception | None:
    return None if one is None else WrittenInterception.of(one, angle=one.angle_deg)


def _arrival(one: Arrival) -> WrittenArrival:
    return WrittenArrival.of(
        one,
        speed_at_fix_kias=one.speed_at_fix_kt,
        speed_before_kias=one.speed_before_kt,
        rule=one.source,
        slow_down=written_score(one.slow_down) if one.slow_down else None,
    )


def written_lesson(lesson: Lesson) -> WrittenLesson:
    """Write one lesson."""
    return WrittenLesson.of(
        lesson,
        before=written_number(lesson.before),
        taught=written_number(lesson.taught),
        flown=written_number(lesson.flown),
        exact=written_number(lesson.exact),
    )


def written_leaving(leaving: Leaving | None) -> WrittenLeaving | None:
    """Write the leaving; None where no time was given."""
    if leaving is None:
        return None
    return WrittenLeaving.of(
        leaving,
        score=written_score(leaving.score),
        plans=tuple(_plan(one) for one in leaving.departures),
        turn_in=tuple(_turn_in(one) for one in leaving.table),
    )


def _plan(one: Departure) -> WrittenPlan:
    plan = one.plan
    return WrittenPlan.of(
        one,
        plan,
        to_go_s=plan.wanted_s,
        why_not=plan.why_not or None,
        shortened=tuple(_shortened(circuit) for circuit in plan.shortened),
        leaves_s=one.fix_s + plan.leaves_s,
    )


def _shortened(circuit: ExactCircuit) -> WrittenShortened:
    return WrittenShortened.of(circuit, outbound_heading_true=circuit.outbound_heading_deg)


def _turn_in(one: TurnIn) -> WrittenTurnIn:
    return WrittenTurnIn.of(
        one, outbound_timed_wings_s=one.outbound_time_s, outbound_heading_true=one.outbound_heading_deg
    )


def written_finding(one: Finding) -> WrittenFinding:
    """Write one finding."""
    decimals = DECIMALS.get(one.unit, 2)
    return WrittenFinding.of(
        one,
        value=number(one.value, decimals),
        target=number(one.target, decimals),
        tolerance=number(one.tolerance, decimals),
        sd=number(one.sd, decimals + 1),
        unit=one.unit or None,
        advice=one.advice or None,
        brief=one.brief or None,
        item=one.item or None,
        directions_true=directions(one.directions_true_deg),
    )


def written_excursions(judged: JudgedHold) -> tuple[WrittenExcursion, ...]:
    """Write each time that altitude, speed, bank or track left its tolerance."""
    written = []
    for item, kept in (("altitude", judged.altitude_kept), ("speed", judged.speed_kept)):
        written += _excursions(item, kept.excursions if kept is not None else ())
    for item in ("bank", "track"):
        written += _excursions(item, [one for circuit in judged.circuits for one in circuit.left[item]])
    return tuple(written)


def _excursions(item: str, found: Sequence[Excursion]) -> list[WrittenExcursion]:
    decimals = {"altitude": 1, "track": 4}.get(item, 2)
    return [
        WrittenExcursion.of(
            one, item=item, worst=number(one.worst, decimals), reference=number(one.reference, decimals)
        )
        for one in found
    ]
