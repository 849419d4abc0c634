"""What is said about the finding itself: oddities of a hold, and what came nearest where there is none."""

from __future__ import annotations

from collections.abc import Sequence

from analyser.circuits.flown import Circuit, Entry
from analyser.circuits.frame import HoldFrame, nearest_passage
from analyser.circuits.given_hold import GivenReading
from analyser.circuits.lap_phases import LapPhases
from analyser.circuits.thresholds import GIVEN, NOTICES
from analyser.holds.definition import Hold
from analyser.logs.track import Notice
from analyser.motion.estimate import Measured


def given_notices(
    measured: Measured,
    frame: HoldFrame,
    reading: GivenReading,
    circuits: Sequence[Circuit],
    entry: Entry | None,
    alike: Sequence[Hold],
) -> list[Notice]:
    """Say what is odd about a stay at a given hold.

    Parameters
    ----------
    measured : Measured
    frame : HoldFrame
    reading : GivenReading
    circuits : sequence of Circuit
    entry : Entry or None
    alike : sequence of Hold
        Given holds that fit as well as this one.
    """
    hold = reading.view.hold
    notices = [] if reading.side == hold.side else [_other_hand(hold)]
    notices += [_as_well(hold, other) for other in alike]
    notices += _entry_notices(entry)
    spans = [*reading.laps, *([reading.broken] if reading.broken else [])]
    if entry is not None and reading.entry is not None:
        notices += _lost_fix(frame, "entry", circuits[0].start_s)
    notices += _circles_over_the_fix(reading)
    for circuit, lap in zip(circuits, spans, strict=True):
        notices += _lap_notices(measured, frame, reading, circuit, lap)
    return notices


def _as_well(hold: Hold, other: Hold) -> Notice:
    names = [one.name or "a hold without a name" for one in (hold, other)]
    return Notice("fits-as-well", f"{names[1]} fits this stretch as well as {names[0]}, which was taken")


def _other_hand(hold: Hold) -> Notice:
    flown = "left" if hold.turns == "right" else "right"
    said = f"the hold file says {hold.turns}-hand turns, but the hold was flown {flown}-handed"
    return Notice("turns-other-hand", said)


def _entry_notices(entry: Entry | None) -> list[Notice]:
    if entry is None:
        return [Notice("entry-not-recorded", "the log begins inside the hold: the entry cannot be judged")]
    if entry.flown == "other" and entry.turns:
        said = "entry: an offset leg, but the turn back was made away from the hold"
        return [Notice("entry-turned-wrong-way", said)]
    return []


def _circles_over_the_fix(reading: GivenReading) -> list[Notice]:
    notices = []
    for number, passage in enumerate(reading.passages, start=1):
        if passage.again is not None:
            before = number <= len(reading.laps) + bool(reading.broken)
            when = f"before circuit {number}" if before else "at the end"
            notices.append(
                Notice(
                    "circle-over-fix", f"{when} a full circle was flown over the fix: no part of a circuit"
                )
            )
    return notices


def _lost_fix(frame: HoldFrame, named: str, passed_s: float) -> list[Notice]:
    """Say how far away the fix was passed: abeam, as the needle shows it, however near a turn led before."""
    _, miss_nm = nearest_passage(frame, passed_s - 1.0, passed_s + 1.0)
    if not miss_nm > GIVEN.lost_nm:
        return []
    return [Notice("fix-lost", f"{named}: you lost the fix: you passed it {miss_nm:.1f} NM away")]


def _lap_notices(
    measured: Measured, frame: HoldFrame, reading: GivenReading, circuit: Circuit, lap: LapPhases
) -> list[Notice]:
    notices, named, motion = [], f"circuit {circuit.number}", measured.motion
    lost_s = float(motion.in_hole[motion.span(circuit.start_s, circuit.end_s)].sum())
    if lost_s >= NOTICES.least_hole_s:
        said = f"{named}: the log has a hole of {lost_s:.0f} s; what lies in it is not judged"
        notices.append(Notice("hole-in-circuit", said))
    if circuit.complete:
        notices += _lost_fix(frame, named, circuit.end_s)
    if lap.orbits:
        notices.append(Notice("circle-in-circuit", f"{named}: a full circle was flown within it"))
    out, back = circuit.outbound_turn, circuit.inbound_turn
    hands = {"outbound": out, "inbound": back}
    for what, turn in hands.items():
        if turn is not None and turn.heading_change_deg * reading.side < 0.0:
            way = "right" if turn.heading_change_deg > 0.0 else "left"
            notices.append(Notice("turned-other-way", f"{named}: the {what} turn was made to the {way}"))
    if out is None or back is None or measured.chorded:
        return notices
    between_s = max(back.start_s - out.end_s, 0.0)
    if between_s < GIVEN.no_leg_s:
        said = f"{named}: there was no outbound leg, {between_s:.0f} s between the turns"
        notices.append(Notice("no-outbound-leg", said))
    return notices
