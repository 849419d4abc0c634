"""A stay at a hold, measured and cut at its instants: turns, legs, circuits and the entry, and what is odd of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from analyser.circuits.fix_passages import nearest_way_back_nm
from analyser.circuits.flown import Circuit, Entry, FlownHold, Leg, Turn, is_unseen, part_words
from analyser.circuits.frame import HoldFrame, HoldView, crossing, hold_frame, nearest_passage
from analyser.circuits.given_hold import EntrySpan, GivenReading
from analyser.circuits.hold_inference import Inferred, inbound_lengths_nm, infer_hold, infer_leg
from analyser.circuits.laps_and_entries import LapPhases, arrival_heading, meeting_outbound, perhaps_as_well
from analyser.circuits.racetrack import TurnRun
from analyser.circuits.thresholds import CUTTING, ENTRY, GIVEN, RACETRACK
from analyser.circuits.turn_detection import mean_direction, survey_turn, turn_in_span
from analyser.earth.angles import wrap180, wrap360
from analyser.earth.plane import LocalPlane
from analyser.holds.definition import Hold, turns_of
from analyser.logs.track import Notice, Track, runs
from analyser.motion.estimate import Measured, measure
from analyser.motion.motion import Motion


class LapTurns(NamedTuple):
    """The two turns of a lap; the inbound one is None in a lap broken off."""

    outbound: Turn
    inbound: Turn | None


def inferred_hold(track: Track, reading: GivenReading) -> tuple[Hold, tuple[float, float]]:
    """Return what a stay itself says of fix and course, the hold it was read by being a hypothesis only.

    With the sigma of the fix, NM per axis, and of the course, degrees.
    """
    hold = reading.view.hold
    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    measured = _measured(track, reading, plane, quick=True)
    laps = [_turns(measured, reading, span, hold.inbound_course_true_deg) for span in reading.laps]
    found = _found(measured, laps, reading)
    hold = replace(_placed(plane, found), turns=turns_of(reading.side))
    return hold, (found.fix_sd_nm, found.course_sd_deg)


def _measured(track: Track, reading: GivenReading, plane: LocalPlane, *, quick: bool = False) -> Measured:
    view = reading.view
    first, last = reading.start_s, reading.end_s
    start = max(first - CUTTING.before_s, float(view.time_s[0]))
    end = min(last + CUTTING.after_s, float(view.time_s[-1]))
    return measure(track, plane, start, end, (first - CUTTING.beside_s, last + CUTTING.beside_s), quick=quick)


def flown_by_given(
    track: Track, reading: GivenReading, alike: tuple[Hold, ...] = (), *, given: bool = True
) -> FlownHold:
    """Measure one stay at a given hold, or at one inferred from this very flight, and cut it.

    ``alike`` are other given holds that fit as well, to be named.
    """
    view, hold = reading.view, reading.view.hold
    course = hold.inbound_course_true_deg
    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    measured = _measured(track, reading, plane)
    frame = hold_frame(measured.motion, course)
    spans = reading.begun
    laps = [_turns(measured, reading, span, course) for span in spans]
    circuits = [
        _circuit(measured, frame, number, lap, _passed_s(frame, view, span), _circles_s(view, span), course)
        for number, (lap, span) in enumerate(zip(laps, spans, strict=True), start=1)
    ]
    if reading.laps and reading.broken and circuits[-1].end_s - circuits[-1].start_s < GIVEN.broken_stays_s:
        # The turn taken for its first was over as the fix was passed: part of a circle over the fix.
        reading, laps, circuits = replace(reading, broken=None), laps[:-1], circuits[:-1]
    entry = _entry(measured, frame, reading, circuits[0])
    found = _found(measured, laps, reading)
    lengths = inbound_lengths_nm(measured.motion, circuits)
    leg_limit = infer_leg(lengths, measured.motion.tas_mean_kt)
    # A hold that was inferred keeps its course, and so the sigma that this course was told with.
    course_sd_deg = found.course_sd_deg if given else view.course_sd_deg or found.course_sd_deg
    own = replace(_placed(plane, found), turns=turns_of(reading.side), leg=leg_limit)
    hold = hold if given else replace(hold, leg=leg_limit)
    begun = entry.fix_s if entry else circuits[0].start_s
    notices = _notices(measured, frame, reading, circuits, entry, alike)
    return FlownHold(
        hold=hold,
        inferred=own if given else hold,
        fix_sd_nm=None if given and hold.fix_given else found.fix_sd_nm,
        course_sd_deg=None if given else course_sd_deg,
        motion=measured.over(begun, circuits[-1].end_s),
        entry=entry,
        circuits=tuple(circuits),
        start_s=begun,
        end_s=circuits[-1].end_s,
        notices=(*measured.motion.notices, *notices),
        inferred_sd=(found.fix_sd_nm, course_sd_deg),
    )


def _turns(measured: Measured, reading: GivenReading, span: LapPhases, course_deg: float) -> LapTurns:
    """Cut both turns of a lap at their rolls; where the bank shows none, take them as they were first seen."""
    span = meeting_outbound(reading.view, span)
    outbound = _turn(measured, reading, span.outbound, wrap360(course_deg + 180.0))
    if span.inbound.start >= span.inbound.end:
        return LapTurns(outbound, None)
    inbound = _turn(measured, reading, span.inbound, course_deg)
    if outbound.end_s > inbound.start_s:
        # The wings were never level between: the turn outbound ends where the way leads outbound.
        middle = float(reading.view.time_s[min(span.inbound.start, reading.view.time_s.size - 1)])
        middle = float(np.clip(middle, outbound.start_s + 1.0, inbound.end_s - 1.0))
        outbound, inbound = outbound.between(outbound.start_s, middle), inbound.between(middle, inbound.end_s)
    return LapTurns(outbound, inbound)


def _turn(measured: Measured, reading: GivenReading, span: TurnRun, toward_deg: float) -> Turn:
    time_s = reading.view.time_s
    start_s, end_s = float(time_s[span.start]), float(time_s[min(span.end, time_s.size - 1)])
    found = None if measured.chorded else turn_in_span(measured, start_s, end_s, span.side, toward_deg)
    return found or survey_turn(measured, start_s, end_s, span.change_deg)


def _entry(measured: Measured, frame: HoldFrame, reading: GivenReading, first: Circuit) -> Entry | None:
    """Measure the entry; None where the log begins inside the hold, or hides how it was joined."""
    if not reading.arrived or reading.entry_is_hidden:
        return None
    turned_s = first.outbound_turn.start_s if first.outbound_turn else first.start_s
    if reading.entry is None:
        # After a circle over the fix the first circuit begins later than the fix was met.
        met_s = first.start_s if reading.begun[0].start == reading.start else reading.start_s
        heading, sd = arrival_heading(measured, met_s, min(turned_s, met_s + ENTRY.heading_to_s))
        perhaps = None
        if reading.laps:
            perhaps = perhaps_as_well(reading.view, reading.laps[0], reading.side, list(reading.laps[1:]))
        return Entry(first.start_s, first.start_s, heading, sd, "direct", None, (), perhaps)
    return _flown_entry(measured, frame, reading, reading.entry, first)


def _flown_entry(
    measured: Measured, frame: HoldFrame, reading: GivenReading, span: EntrySpan, first: Circuit
) -> Entry:
    hold, time_s = reading.view.hold, reading.view.time_s
    arrived_s = float(time_s[reading.arrival.index])
    fix_s, _ = nearest_passage(frame, arrived_s - CUTTING.arrived_s, arrived_s + CUTTING.arrived_s)
    fix_s = fix_s if np.isfinite(fix_s) else arrived_s
    back = _turn(measured, reading, span.phases.inbound, hold.inbound_course_true_deg)
    turns = [back]
    out = span.phases.outbound
    if out.end > out.start and abs(out.change_deg) > GIVEN.entry_turn_deg:
        turns.insert(0, _turn(measured, reading, out, hold.outbound_course_true_deg))
    begun = max(fix_s, turns[0].end_s) if len(turns) > 1 else fix_s
    flown = _leg(measured, min(begun, back.start_s - 1.0), back.start_s)
    heading, sd = arrival_heading(measured, fix_s, turns[0].start_s if len(turns) > 1 else fix_s + 60.0)
    perhaps = None
    if span.kind == "offset":
        perhaps = perhaps_as_well(reading.view, span.phases, reading.side, list(reading.laps))
    return Entry(fix_s, first.start_s, heading, sd, span.kind, flown, tuple(turns), perhaps)


def _found(measured: Measured, laps: list[LapTurns], reading: GivenReading) -> Inferred:
    """Infer fix and course from the laps that were flown whole."""
    course_deg, entry = reading.view.hold.inbound_course_true_deg, reading.entry
    whole = [(lap.outbound, lap.inbound) for lap in laps[: len(reading.laps)] if lap.inbound is not None]
    back = None if entry is None else _turn(measured, reading, entry.phases.inbound, course_deg)
    ended_s = float(reading.view.time_s[reading.passages[-1].index])
    return infer_hold(measured.motion, whole, back, ended_s, course_deg)


def _placed(plane: LocalPlane, found: Inferred) -> Hold:
    lat, lon = plane.to_earth(np.array([found.east_nm]), np.array([found.north_nm]))
    return Hold(float(lat[0]), float(lon[0]), wrap360(found.course_deg), "right")


def _passed_s(frame: HoldFrame, view: HoldView, span: LapPhases) -> tuple[float, float | None]:
    """Return the instants of passing the fix before a lap and after it; None where it was broken off."""
    start_s = _passage_near(frame, float(view.time_s[span.start]))
    return start_s, _passage_near(frame, float(view.time_s[span.end])) if span.whole else None


def _circles_s(view: HoldView, span: LapPhases) -> tuple[tuple[float, float], ...]:
    return tuple((float(view.time_s[a]), float(view.time_s[b - 1])) for a, b in span.orbits)


def _passage_near(frame: HoldFrame, around_s: float) -> float:
    """Return the instant of a passage that is known roughly: the crossing of the perpendicular, or the nearest."""
    crossed = crossing(frame, around_s - CUTTING.passing_s, around_s + CUTTING.passing_s, inbound=True)
    if crossed is not None:
        return crossed
    instant, _ = nearest_passage(frame, around_s - CUTTING.passing_s, around_s + CUTTING.passing_s)
    return instant if np.isfinite(instant) else around_s


def _circuit(
    measured: Measured,
    frame: HoldFrame,
    number: int,
    lap: LapTurns,
    passed_s: tuple[float, float | None],
    circles_s: tuple[tuple[float, float], ...],
    course_deg: float,
) -> Circuit:
    begun, end_s = passed_s
    lap = lap._replace(outbound=_from_fix(measured.motion, lap.outbound, begun, course_deg))
    if measured.chorded:
        lap = LapTurns(_doubted(lap.outbound), _doubted(lap.inbound) if lap.inbound else None)
    outbound_leg, inbound_leg, last = _legs(measured, lap, end_s, circles_s, course_deg)
    finished = last if end_s is None else end_s
    wind = measured.wind.mean_wind(begun, finished)
    tas = measured.mean_tas(begun, finished)
    latest = lap.inbound.start_s if lap.inbound else finished
    return Circuit(
        number=number,
        start_s=begun,
        end_s=finished,
        complete=end_s is not None,
        outbound_turn=lap.outbound,
        outbound_leg=outbound_leg,
        abeam_s=crossing(frame, lap.outbound.start_s + CUTTING.abeam_after_s, latest, inbound=False),
        inbound_turn=lap.inbound,
        inbound_leg=inbound_leg,
        wind_east_kt=wind[0],
        wind_north_kt=wind[1],
        wind_sd_kt=wind[2],
        tas_kt=tas[0],
        tas_sd_kt=tas[1],
        circles_s=circles_s,
    )


def _from_fix(motion: Motion, turn: Turn, fix_s: float, course_deg: float) -> Turn:
    """Begin an outbound turn at the fix where the aircraft was still turning to meet the course when it passed.

    One that was begun on the course was begun early.
    """
    off_deg = abs(wrap180(motion.at("track_deg", turn.start_s) - course_deg))
    early = fix_s - turn.start_s >= CUTTING.still_turning_s and off_deg > CUTTING.on_course_deg
    merged = abs(turn.heading_change_deg) >= RACETRACK.merged_turn_deg
    return turn.between(fix_s, turn.end_s) if early and merged else turn


def _doubted(turn: Turn) -> Turn:
    """Doubt the ends of a turn of which the chords show less than half a circle: the rest was turned unseen."""
    lacking_deg = max(CUTTING.least_half_circle_deg - abs(turn.heading_change_deg), 0.0)
    lacking_s = lacking_deg / max(abs(turn.rate_mean_dps), CUTTING.slowest_turn_dps)
    return replace(
        turn,
        start_sd_s=float(np.hypot(turn.start_sd_s, lacking_s)),
        end_sd_s=float(np.hypot(turn.end_sd_s, lacking_s)),
    )


def _legs(
    measured: Measured,
    lap: LapTurns,
    end_s: float | None,
    circles_s: tuple[tuple[float, float], ...],
    course_deg: float,
) -> tuple[Leg, Leg | None, float]:
    """Return both legs and where the lap's flying ends if it never came back to the fix."""
    if lap.inbound is None:
        until = _leg_end(measured, lap.outbound, wrap360(course_deg + 180.0))
        return _leg(measured, lap.outbound.end_s, until, circles_s), None, until
    outbound = _leg(measured, lap.outbound.end_s, lap.inbound.start_s, circles_s)
    until = _leg_end(measured, lap.inbound, course_deg) if end_s is None else end_s
    if until <= lap.inbound.end_s + 1.0:
        return outbound, None, lap.inbound.end_s
    return outbound, _leg(measured, lap.inbound.end_s, until, circles_s), until


def _leg_end(measured: Measured, turn: Turn, course_deg: float) -> float:
    """Follow a leg that was broken off to where the aircraft no longer flew it."""
    span = measured.motion.span(turn.end_s, turn.end_s + CUTTING.broken_leg_s)
    off = np.abs(wrap180(measured.motion.track_deg[span] - course_deg)) > 60.0
    time_s = measured.motion.time_s[span]
    if time_s.size == 0:
        return turn.end_s
    return float(time_s[np.argmax(off)]) if off.any() else float(time_s[-1])


def _leg(
    measured: Measured, start_s: float, end_s: float, circles_s: tuple[tuple[float, float], ...] = ()
) -> Leg:
    """Measure a leg, wings level to wings leaving level or to the fix; whole circles have no part in its heading."""
    motion = measured.motion
    settle = min(CUTTING.settle_s, CUTTING.settle_share * (end_s - start_s))
    inner = motion.span(start_s + settle, end_s - settle)
    straight = np.ones(motion.time_s[inner].size, dtype=bool)
    for a, b in circles_s:
        straight &= (motion.time_s[inner] < a - settle) | (motion.time_s[inner] > b + settle)
    heading = mean_direction(motion.heading_deg[inner][straight])
    if not np.isfinite(heading):
        heading = motion.at("heading_deg", 0.5 * (start_s + end_s))
    east = motion.at("east_nm", end_s) - motion.at("east_nm", start_s)
    north = motion.at("north_nm", end_s) - motion.at("north_nm", start_s)
    _, _, wind_sd = measured.wind.mean_wind(start_s, end_s)
    seen = inner.stop > inner.start
    tas = max(measured.mean_tas(start_s, end_s)[0], CUTTING.least_tas_kt) if seen else CUTTING.usual_tas_kt
    return Leg(
        start_s=start_s,
        end_s=end_s,
        heading_deg=heading,
        heading_sd_deg=float(np.hypot(np.degrees(wind_sd / tas), CUTTING.least_heading_sd_deg)),
        track_deg=float(np.degrees(np.arctan2(east, north)) % 360.0),
    )


def _notices(
    measured: Measured,
    frame: HoldFrame,
    reading: GivenReading,
    circuits: Sequence[Circuit],
    entry: Entry | None,
    alike: Sequence[Hold],
) -> list[Notice]:
    """Say what is odd about a stay at a hold; other given holds fit as well as this one."""
    hold = reading.view.hold
    notices = [] if reading.side == hold.side else [_other_hand(hold)]
    notices += [_as_well(hold, other) for other in alike]
    notices += _entry_notices(entry, hidden=reading.entry_is_hidden)
    if entry is not None and reading.entry is not None:
        notices += _lost_fix(measured.motion, frame, "entry", circuits[0].start_s)
    notices += _circles_over_the_fix(reading)
    if not reading.laps:
        back_nm = nearest_way_back_nm(reading.view, reading.passages[-1])
        beside = "" if back_nm is None else f"; the flight came back {back_nm:.1f} NM beside the fix"
        notices.append(Notice("part-of-circuit", part_words(circuits[-1]) + beside))
    for circuit, lap in zip(circuits, reading.begun, strict=True):
        notices += _lap_notices(measured, frame, reading, circuit, lap)
    return notices + _way_back_when_left(reading, circuits)


def _way_back_when_left(reading: GivenReading, circuits: Sequence[Circuit]) -> list[Notice]:
    """Say how a way back led that was taken for leaving: begun to the other side, or perhaps by who lost the fix."""
    if reading.leaving is None:
        return []
    lap, back, odds = reading.leaving
    came = (
        f"came back {back.miss_nm:.1f} NM beside the fix: that was taken for leaving the hold and not judged"
    )
    if lap.outbound.side == -reading.side and abs(lap.outbound.change_deg) >= GIVEN.broken_turn_deg:
        turned = f"turned {turns_of(lap.outbound.side)}, away from the holding side, and"
        return [Notice("left-other-way", f"after the last circuit you {turned} {came}")]
    if odds > GIVEN.left_sure_odds or round(back.miss_nm, 1) < GIVEN.lost_nm:
        return []
    named = f"circuit {circuits[-1].number}:" if reading.broken else "after the last circuit"
    return [Notice("fix-lost", f"{named} you {came}")]


def _as_well(hold: Hold, other: Hold) -> Notice:
    names = [one.name or "a hold without a name" for one in (hold, other)]
    return Notice("fits-as-well", f"{names[1]} fits this stretch as well as {names[0]}, which was taken")


def _other_hand(hold: Hold) -> Notice:
    said = f"the hold file says {hold.turns}-hand turns, but the hold was flown {hold.other_turns}-handed"
    return Notice("turns-other-hand", said)


def _entry_notices(entry: Entry | None, *, hidden: bool) -> list[Notice]:
    if entry is None:
        why = "the log has a hole where the hold was joined" if hidden else "the log begins inside the hold"
        return [Notice("entry-not-recorded", f"{why}: the entry cannot be judged")]
    if entry.flown == "other" and entry.turns:
        said = "entry: an offset leg, but the turn back was made away from the hold"
        return [Notice("entry-turned-wrong-way", said)]
    return []


def _circles_over_the_fix(reading: GivenReading) -> list[Notice]:
    notices = []
    for number, passage in enumerate(reading.passages, start=1):
        if passage.again is not None:
            before = number <= len(reading.begun)
            when = f"before circuit {number}" if before else "at the end"
            notices.append(
                Notice(
                    "circle-over-fix", f"{when} a full circle was flown over the fix: no part of a circuit"
                )
            )
    return notices


def _lost_fix(motion: Motion, frame: HoldFrame, named: str, passed_s: float) -> list[Notice]:
    """Say how far away the fix was passed: abeam, as the needle shows it, however near a turn led before."""
    if motion.in_hole[motion.span(passed_s - 1.0, passed_s + 1.0)].any():
        # Nobody saw where.
        return []
    _, miss_nm = nearest_passage(frame, passed_s - 1.0, passed_s + 1.0)
    # As it is written: nobody measures a passage to a hundredth of a mile.
    if round(miss_nm, 1) < GIVEN.lost_nm:
        return []
    return [Notice("fix-lost", f"{named}: you lost the fix: you passed it {miss_nm:.1f} NM away")]


def _lap_notices(
    measured: Measured, frame: HoldFrame, reading: GivenReading, circuit: Circuit, lap: LapPhases
) -> list[Notice]:
    notices, named, motion = [], f"circuit {circuit.number}", measured.motion
    # The second beside a sample counts as seen.
    holes_s = [b - a + 2 for a, b in runs(motion.in_hole[motion.span(circuit.start_s, circuit.end_s)])]
    if sum(holes_s) >= CUTTING.least_hole_s:
        lost = f"a hole of {holes_s[0]} s; what lies in it"
        if len(holes_s) > 1:
            lost = f"{len(holes_s)} holes, {sum(holes_s)} s in all, the longest {max(holes_s)} s; what lies in them"
        notices.append(Notice("hole-in-circuit", f"{named}: the log has {lost} is not judged"))
    if circuit.complete:
        notices += _lost_fix(measured.motion, frame, named, circuit.end_s)
    if lap.orbits:
        circles = "a full circle was" if len(lap.orbits) == 1 else f"{len(lap.orbits)} full circles were"
        notices.append(Notice("circle-in-circuit", f"{named}: {circles} flown within it"))
    out, back = circuit.outbound_turn, circuit.inbound_turn
    hands = {"outbound": out, "inbound": back}
    for what, turn in hands.items():
        if turn is None or is_unseen(motion, turn):
            continue
        if turn.heading_change_deg * reading.side < 0.0:
            way = "right" if turn.heading_change_deg > 0.0 else "left"
            notices.append(Notice("turned-other-way", f"{named}: the {what} turn was made to the {way}"))
    if out is None or back is None or measured.chorded:
        return notices
    between_s = max(back.start_s - out.end_s, 0.0)
    # In a hole of the log nobody saw where the turns ended.
    hidden = bool(motion.in_hole[motion.span(out.end_s - 1.0, back.start_s + 1.0)].any())
    if between_s < GIVEN.no_leg_s and not hidden:
        said = f"{named}: there was no outbound leg, {between_s:.0f} s between the turns"
        notices.append(Notice("no-outbound-leg", said))
    return notices
