"""What the program makes of weak students (:mod:`tests.flights.students`), with the right hold given and without."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from analyser.circuits.find import search
from analyser.circuits.flown import Circuit, FlownHold
from tests.flights.as_track import seen_track, to_hold
from tests.flights.cache import remembered
from tests.flights.flight import Seen, see
from tests.flights.students import StudentCase, StudentFlight, make_student
from tests.flights.truth import NM, SHORTEST_TURN_S, TrueCircuit, TrueHold, axes, between

#: Who passes the fix by no more than this is to be debriefed whole; who passes it by more is to be told so.
KEPT_NM = 1.5
#: Circuits belong together if they begin within this of each other, seconds.
SAME_CIRCUIT_S = 40.0
HOLE_S = 91.0
#: A lap broken off comes round after all if, within so many seconds, it crosses the perpendicular within this of the
#: course, degrees, and no farther from the fix than this, NM, or than twice the worst passage before.
ROUND_AFTER_S, ROUND_WITHIN_DEG, ROUND_MISS_NM = 150.0, 45.0, 0.4
#: What is asked: shares, and the seconds that 95 % of the boundaries are to lie within.
ASKED = {
    "debriefed, of all": 0.98,
    "debriefed whole, of those within 1.5 NM of the fix": 0.98,
    "told of the fix they lost, of those beyond 1.5 NM": 0.98,
    "entry recognised, of those debriefed": 0.98,
    "hold not given: hold or perhaps a hold": 1.0,
}
WITHIN_S = {"lap boundaries": 2.0, "turn boundaries": 3.0}


@dataclass
class StudentErrors:
    """What came of one student's flight, or of several."""

    shares: dict[str, list[bool]] = field(default_factory=lambda: {name: [] for name in ASKED})
    seconds: dict[str, list[float]] = field(default_factory=lambda: {name: [] for name in WITHIN_S})
    not_given: Counter[str] = field(default_factory=Counter)
    remarks: list[str] = field(default_factory=list)

    def merge(self, other: StudentErrors) -> None:
        """Take over another flight's errors."""
        for name, said in other.shares.items():
            self.shares[name] += said
        for name, found in other.seconds.items():
            self.seconds[name] += found
        self.not_given += other.not_given
        self.remarks += other.remarks


@dataclass(frozen=True)
class SeenStudent:
    """A student's flight as the receiver saw it, and the truth."""

    seen: Seen
    flown: StudentFlight
    hole_s: tuple[float, float] | None


def watch_student(case: StudentCase) -> SeenStudent:
    """Fly a student and let the receiver watch; or remember it."""

    def make() -> SeenStudent:
        flown = make_student(case.plan)
        receiver, hole = case.receiver, None
        if case.hole_share is not None:
            middle = flown.hold.fix_s + case.hole_share * (flown.hold.end_s - flown.hold.fix_s)
            hole = (middle - 0.5 * HOLE_S, middle + 0.5 * HOLE_S)
            receiver = replace(receiver, holes_s=(hole,))
        return SeenStudent(see(flown.flight, receiver, case.plan.seed), flown, hole)

    return remembered(f"student {case!r}", make)


def measure_student(case: StudentCase) -> StudentErrors:
    """Measure the program on one student."""
    watched, errors = watch_student(case), StudentErrors()
    truth = _begun_over_the_fix(watched.flown.hold)
    watched = replace(
        watched, flown=replace(watched.flown, flight=replace(watched.flown.flight, holds=(truth,)))
    )
    track, offset_s = seen_track(watched.seen, case.plan.name), float(watched.seen.time_s[0])

    # Of a hold that was over in less than two minutes half is asked for.
    least_s = min(60.0, 0.5 * (truth.end_s - truth.fix_s))

    def met(start_s: float, end_s: float) -> bool:
        return min(end_s + offset_s, truth.end_s) - max(start_s + offset_s, truth.fix_s) > least_s

    given = [h for h in search(track, [to_hold(truth)]).holds if h.given and met(h.start_s, h.end_s)]
    errors.shares["debriefed, of all"].append(bool(given))
    if given:
        _compare(errors, given, case, watched, offset_s)
    else:
        errors.remarks.append(f"{_who(case)}: not debriefed (misses {_miles(watched)})")
        if max(_misses_nm(watched.flown)) <= KEPT_NM:
            errors.shares["debriefed whole, of those within 1.5 NM of the fix"].append(False)
    free = search(track)
    held = any(met(h.start_s, h.end_s) for h in free.holds)
    perhaps = any(met(p.start_s, p.end_s) for p in free.possible)
    errors.shares["hold not given: hold or perhaps a hold"].append(held or perhaps)
    errors.not_given["hold" if held else "perhaps" if perhaps else "none"] += 1
    if not held and not perhaps:
        errors.remarks.append(f"{_who(case)}: not given, lost: {free.nearest_miss}")
    return errors


def _begun_over_the_fix(truth: TrueHold) -> TrueHold:
    """Begin the first circuit of a direct entry where the fix was passed on arrival.

    Who arrives from the other side passes the perpendicular inbound only half a turn later, far beside the fix.
    """
    first, *others = truth.circuits
    if truth.entry != "direct" or first.start_s < truth.fix_s:
        return truth
    return replace(truth, circuits=(replace(first, start_s=truth.fix_s), *others))


def _who(case: StudentCase) -> str:
    plan = case.plan
    odd = [m for m in plan.mishaps if m] + ([plan.ending] if plan.ending != "fix" else [])
    odd += ["all wrong hand"] if plan.all_wrong_hand else []
    odd += ["hole"] if case.hole_share is not None else []
    return (
        f"{plan.name}: {plan.entry}, {plan.circuits} circuits, watch {plan.watch}, {plan.inbound}, leg "
        f"{plan.leg_s:.0f} s, bank {plan.bank_deg:.0f}, {plan.tas_kt:.0f} kt, wind {plan.air.speed_kt:.0f} × "
        f"{plan.drift_multiple:.1f}, every {case.receiver.interval_s:g} s, {', '.join(odd) or 'no mishap'}"
    )


def _miles(watched: SeenStudent) -> str:
    return ", ".join(f"{miss:.1f}" for miss in _misses_nm(watched.flown))


def _misses_nm(flown: StudentFlight) -> tuple[float, ...]:
    """Return how far beside the fix it was passed, on arrival and wherever a circuit truly begins or ends.

    That is abeam, as the needle shows it, at the instant that is the circuit's true boundary: who still turns when he
    passes the fix may be somewhere else by the time he believes that he has passed it.
    """
    circuits, series = flown.hold.circuits, flown.flight.series
    passed_s = [flown.hold.fix_s, circuits[0].start_s, *(one.end_s for one in circuits if one.complete)]
    along, across = (axis / NM for axis in axes(series, (0.0, 0.0), flown.hold.course_deg))
    away = np.interp(passed_s, series["time_s"], np.hypot(along, across))
    return tuple(float(miss) for miss in away)


def _compare(
    errors: StudentErrors, given: list[FlownHold], case: StudentCase, watched: SeenStudent, offset_s: float
) -> None:
    flown, truth = watched.flown, watched.flown.hold
    found, said = max(given, key=lambda h: h.end_s - h.start_s), []
    entry = found.entry.flown if found.entry else "none"
    errors.shares["entry recognised, of those debriefed"].append(entry == flown.entry)
    if entry != flown.entry:
        said.append(f"{flown.entry} entry read as {entry}")
    if len(given) > 1:
        said.append(f"{len(given)} holds")
    pairs = _pairs(found, truth.circuits, offset_s)
    lost = len(truth.circuits) - len(pairs)
    whole = len(given) == 1 and not lost and len(found.circuits) == len(pairs) and found.entry is not None
    if len(found.circuits) != len(truth.circuits):
        said.append(f"{len(found.circuits)} circuits, truly {len(truth.circuits)}")
    round_after_all = _comes_round(flown)
    for number, mine, true in pairs:
        either = round_after_all and number == len(truth.circuits)
        if mine.complete != true.complete and not either:
            whole = False
            said.append(f"circuit {number} whole: {mine.complete}")
        said += _boundaries(errors, watched, number, mine, true, offset_s)
    if max(_misses_nm(flown)) <= KEPT_NM:
        errors.shares["debriefed whole, of those within 1.5 NM of the fix"].append(whole)
        said += [] if whole else ["NOT WHOLE"]
    else:
        told = any(notice.code == "fix-lost" for notice in found.notices)
        errors.shares["told of the fix they lost, of those beyond 1.5 NM"].append(told)
        said += [] if told else [f"not told of the fix lost ({_miles(watched)} NM)"]
    if said:
        errors.remarks.append(f"{_who(case)}: {'; '.join(said)} ({_miles(watched)})")


def _comes_round(flown: StudentFlight) -> bool:
    """Tell whether a lap that was meant to be broken off leads inbound over the fix after all, as well as others did.

    Who leaves in the inbound turn, and whose way out happens to be the way to the fix, has flown the whole lap to any
    eye: both readings of it are true.
    """
    last, series = flown.hold.circuits[-1], flown.flight.series
    if last.complete:
        return False
    after = between(series, last.end_s, last.end_s + ROUND_AFTER_S)
    along, across = (axis[after] for axis in axes(series, (0.0, 0.0), flown.hold.course_deg))
    crossed = np.flatnonzero((along[:-1] < 0.0) & (along[1:] >= 0.0))
    if not crossed.size:
        return False
    way_deg = float(np.degrees(np.arctan2(*(np.diff(a[crossed[0] :][:2])[0] for a in (across, along)))))
    as_well_nm = max(ROUND_MISS_NM, 2.0 * max(_misses_nm(flown)))
    return abs(across[crossed[0]]) / NM <= as_well_nm and abs(way_deg) <= ROUND_WITHIN_DEG


def _pairs(
    found: FlownHold, circuits: tuple[TrueCircuit, ...], offset_s: float
) -> list[tuple[int, Circuit, TrueCircuit]]:
    left, pairs = list(found.circuits), []
    for number, true in enumerate(circuits, start=1):
        mine = min(left, key=lambda c: abs(c.start_s + offset_s - true.start_s), default=None)
        if mine is not None and abs(mine.start_s + offset_s - true.start_s) <= SAME_CIRCUIT_S:
            left.remove(mine)
            pairs.append((number, mine, true))
    return pairs


def _boundaries(
    errors: StudentErrors,
    watched: SeenStudent,
    number: int,
    mine: Circuit,
    true: TrueCircuit,
    offset_s: float,
) -> list[str]:
    """Compare where a lap and its turns begin and end, wherever the phase exists and the log has no hole."""
    flown = watched.flown
    legless, merged_in = number in flown.legless, number in flown.merged_in
    out, back = mine.outbound_turn, mine.inbound_turn
    lap = [("start", mine.start_s, true.start_s)]
    lap += [("end", mine.end_s, true.end_s)] if true.complete and mine.complete else []
    turns: list[tuple[str, float | None, float]] = []
    # Who passes the fix on the outbound heading already has nothing to turn.
    turned = true.outbound_turn.end_s - true.outbound_turn.start_s >= SHORTEST_TURN_S
    if turned and not true.outbound_turn.merged:
        turns.append(("leaving level", out.start_s if out else None, true.outbound_turn.start_s))
    if turned and not legless:
        turns.append(("outbound level", out.end_s if out else None, true.outbound_turn.end_s))
    if true.inbound_turn is not None and not legless:
        turns.append(("turning in", back.start_s if back else None, true.inbound_turn.start_s))
    if true.inbound_turn is not None and not merged_in:
        turns.append(("inbound level", back.end_s if back else None, true.inbound_turn.end_s))
    said = []
    for kind, named in (("lap boundaries", lap), ("turn boundaries", turns)):
        for what, seen_s, true_s in named:
            if watched.hole_s and watched.hole_s[0] - 10.0 < true_s < watched.hole_s[1] + 10.0:
                continue
            off = 99.0 if seen_s is None else seen_s + offset_s - true_s
            errors.seconds[kind].append(off)
            if abs(off) > WITHIN_S[kind]:
                said.append(f"{number} {what} {off:+.0f} s (at {true_s - offset_s:.0f})")
    return said


def report_students(results: Iterable[StudentErrors], *, verbose: bool) -> bool:
    """Print the table; return whether everything asked is met."""
    total = StudentErrors()
    for errors in results:
        total.merge(errors)
    print(f"\n== students\n{len(total.shares['debriefed, of all'])} flights")
    met = True
    for name, asked in ASKED.items():
        said = total.shares[name]
        share = float(np.mean(said)) if said else 1.0
        met &= share >= asked
        print(
            f"{name:54} {sum(said):4} of {len(said):4} {100 * share:6.1f} %   asked {100 * asked:.0f} %   "
            f"{'met' if share >= asked else 'MISSED'}"
        )
    for name, within in WITHIN_S.items():
        off = np.abs(total.seconds[name])
        median, most = (float(np.percentile(off, p)) for p in (50, 95)) if off.size else (0.0, 0.0)
        met &= most <= within
        print(
            f"{name + ', s':54} {off.size:4}, median {median:.2f}, 95 % {most:.2f}, asked {within:g}   "
            f"{'met' if most <= within else 'MISSED'}"
        )
    print(
        "hold not given: " + ", ".join(f"{count} {what}" for what, count in sorted(total.not_given.items()))
    )
    if verbose:
        for remark in total.remarks:
            print(f"   {remark}")
    return met
