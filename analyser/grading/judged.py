"""What judging gives for a whole hold, and how its points are weighed from its parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, Entry
from analyser.frozen import dataclass
from analyser.grading.budget import Budget
from analyser.grading.finding import Capped, Finding, Said, Severity, Told, said, work_on_first
from analyser.grading.keeping import Excursion, Keeping, LevelPlan
from analyser.grading.lap import Ideal, Measures, has_leg
from analyser.grading.learning import Lesson
from analyser.grading.legs_and_turns import Leaving
from analyser.grading.next_time import NextTime
from analyser.grading.score import Numbers, Score, mean_points
from analyser.grading.terms import HoldCase, Terms
from analyser.grading.wording import on_circuits
from analyser.holds.definition import Hold
from analyser.holds.entries import EntryName
from analyser.holds.ideal_circuit import rules_altitude_ft
from analyser.rules.scoring import GradeStep, Scoring

FloatArray = NDArray[np.float64]
EntryVerdict = Literal["correct", "incorrect", "not judged"]


@dataclass(frozen=True)
class Interception:
    """How the inbound course was met after a parallel or offset entry."""

    #: At the end of the turn back, positive right of the course.
    rollout_cross_track_nm: float
    #: Track against the course there, positive right.
    angle_deg: float
    #: Distance before the fix from which the track stayed within tolerance; None where it never did.
    met_at_nm: float | None


@dataclass(frozen=True)
class Arrival:
    """Speed on arrival."""

    #: Over the fix, and the time of slowing down before it; indicated.
    speed_at_fix_kias: float | None
    speed_before_kias: float | None
    #: Maximum holding speed.
    limit_kias: float
    #: How long before the fix the speed had come within tolerance of the holding speed to stay; 0 where it never had,
    #: None where the log begins later or has no airspeed.
    slowed_before_fix_s: float | None
    #: Against the limit, over the fix.
    verdict: Literal["within", "outside", "not judged"]
    rule: str
    #: How long before the fix the speed came below the limit to stay, against the time the rules name; None where they
    #: name none. Points are not given: it is for where notice allows.
    slow_down: Score | None = None
    #: For how long the speed was surely beyond the limit between the fix and the first circuit, and the fastest there.
    over_limit_s: float = 0.0
    most_kias: float = math.nan


@dataclass(frozen=True)
class JudgedEntry:
    """The judged entry."""

    entry: Entry
    #: The sector the heading lies in first, then a neighbour within the zone of flexibility.
    sectors_allowed: tuple[EntryName, ...]
    verdict: EntryVerdict
    #: False where the entry is allowed but another one was recommended.
    recommended: bool
    points: float | None
    #: Of a parallel or offset entry: its track or heading against the rule's, and its outbound time or length.
    angle: Score | None
    time: Score | None
    #: Farthest onto the non-holding side between the fix and the first circuit.
    off_side_nm: float | None
    #: Heading change of the turn back, positive right.
    turn_back_deg: float | None
    turn_back_right_way: bool | None
    #: The entry that was begun, where it was turned back to the wrong side.
    turned_away: EntryName | None
    interception: Interception | None
    arrival: Arrival
    #: (n,) The ideal entry for the sector of the arrival heading; empty where none can be drawn.
    ideal_east_nm: FloatArray
    ideal_north_nm: FloatArray
    note: str
    #: Whether a parallel entry that nothing asked for is as well a first circuit flown to the wrong hand.
    may_be_circuit: bool = False


@dataclass(frozen=True)
class Part:
    """One part of the hold's points."""

    kind: Literal["entry", "circuit", "leaving"]
    #: Its number; None for the others.
    circuit: int | None
    #: None where not judged.
    points: float | None
    #: What it counts: the rule's weight times the share of the circuit that was judged.
    weight: float
    #: What was left of the rule's weight.
    unjudged: float = 0.0


def parts_of(
    circuits: Sequence[tuple[int, float | None, float]],
    entry: JudgedEntry | None,
    leaving: Leaving | None,
    scoring: Scoring,
) -> tuple[Part, ...]:
    """Weigh the parts of a hold in order of flight: of each circuit number, points, and the share that was judged."""
    weights, parts = scoring.parts, []
    for k, (number, points, share) in enumerate(circuits):
        # Without the entry in the log nobody knows which circuit was the measuring one.
        weight = weights.measuring_circuit if k == 0 and entry is not None else weights.circuit
        parts.append(Part("circuit", number, points, weight * share, weight * (1.0 - share)))
    if entry is not None:
        # An entry is not a hold: it counts no more than the circuits that follow it.
        most = min(weights.entry, sum(part.weight for part in parts)) if parts else weights.entry
        parts.insert(0, Part("entry", None, entry.points, most))
    if leaving is not None:
        parts.append(Part("leaving", None, leaving.score.points, weights.leaving))
    return tuple(parts)


def points_of(parts: Sequence[Part], scoring: Scoring) -> float | None:
    """Return the hold's points: the weighted mean of its parts.

    None where too little of its circuits was judged: an entry is not a hold.
    """
    circuits = [part for part in parts if part.kind == "circuit"]
    # What of a circuit was not judged stays in the sum of weights, so that it can be too little.
    weighed = [(part.points, part.weight) for part in circuits] + [(None, part.unjudged) for part in circuits]
    if circuits and mean_points(weighed, scoring.parts.least_judged_of_hold) is None:
        return None
    return mean_points([(part.points, part.weight) for part in parts])


@dataclass(frozen=True)
class JudgedCircuit:
    """One circuit, judged."""

    #: As flown.
    circuit: Circuit
    measures: Measures
    #: The exact circuit for its wind and airspeed.
    ideal: Ideal
    #: What it was judged by.
    terms: Terms
    #: Median of the circuit.
    altitude_ft: float | None
    #: Keys as in :data:`analyser.rules.scoring.ITEMS`, in that order.
    scores: dict[str, Score]
    #: The bank of ``"outbound_turn"`` and ``"inbound_turn"``, each by itself; no weight.
    turns: dict[str, Score]
    #: Shown beside the wind correction; has no weight.
    inbound_correction: Score
    #: For how long it was surely flown beyond the maximum holding speed.
    over_limit_s: float
    #: The fastest it was flown, indicated.
    most_kias: float | None
    #: Weighted mean of the items judged.
    points: float | None
    #: None where the circuit's error cannot be split.
    budget: Budget | None
    #: Why it cannot; empty where it can.
    no_budget: str
    #: Each time that ``"bank"`` or ``"track"`` was outside what it was judged by.
    left: dict[str, tuple[Excursion, ...]]

    @property
    def number(self) -> int:
        """Its place in the hold, from 1."""
        return self.circuit.number

    @property
    def has_leg(self) -> bool:
        """Whether an outbound leg was flown where one was to be flown."""
        return has_leg(self.circuit, self.ideal, self.terms)

    @property
    def outbound_target_s(self) -> tuple[float, float]:
        """The outbound time to fly by the terms' clock, and its sigma: the standard one where that is asked."""
        if self.terms.timed == "first outbound" and self.terms.still_air_s is not None:
            return self.terms.still_air_s, 0.0
        return self.ideal.outbound_s("abeam" if self.terms.clock == "length" else self.terms.clock)


def on_these(circuits: Sequence[JudgedCircuit]) -> str:
    """Say on which circuits: ``" on circuits 1 and 3"``; empty where on none."""
    return on_circuits([one.number for one in circuits])


#: Where nothing is advised.
NOTHING_TOLD = Told()


@dataclass(frozen=True)
class JudgedHold(HoldCase):
    """One hold, judged."""

    #: As the file has it, or as it was inferred.
    given: Hold
    #: Numbers of the circuits that were flown to the other hand than that.
    other_hand: tuple[int, ...]
    #: Numbers of the circuits of which only the inbound turn was made to the other hand.
    turned_away: tuple[int, ...]
    #: None where the log begins inside the hold.
    entry: JudgedEntry | None
    circuits: tuple[JudgedCircuit, ...]
    #: Weighted mean of the parts judged, held down to what the findings allow.
    points: float | None
    #: What to change on the next circuit; None where it would end well enough, or nobody can tell.
    next_time: NextTime | None
    learning: tuple[Lesson, ...]
    #: None where no time to leave was given.
    leaving: Leaving | None
    #: The altitude to hold along the motion.
    levels: LevelPlan
    #: Each time that a tolerance was left.
    altitude_kept: Keeping | None
    speed_kept: Keeping | None
    #: Median of the hold.
    altitude_ft: float | None
    #: For magnetic directions in words, east positive.
    variation_deg: float | None
    #: What the points are the weighted mean of.
    parts: tuple[Part, ...] = ()
    #: Proposed for the points, held down likewise.
    grade: GradeStep | None = None
    #: All that is said of the hold, worst first.
    findings: tuple[Finding, ...] = ()
    #: Where a finding held the points down.
    capped: Capped | None = None
    #: Why no grade is proposed; empty where one is, or where there are no points.
    ungraded: str = ""

    @property
    def leg_minutes(self) -> float | None:
        """Leg time without wind: the first circuit's where levels changed; None on a leg limited by distance."""
        if self.circuits:
            return self.circuits[0].terms.minutes
        leg = self.given.leg
        if leg is not None:
            return leg.minutes
        return self.regime.leg_minutes(
            rules_altitude_ft(self.regime, self.given.altitude_ft, self.flown.motion.altitude_ft)
        )

    @property
    def flown_out(self) -> tuple[JudgedCircuit, ...]:
        """The circuits that count: one broken off may have been the way out, of one hardly judged little is known."""
        return tuple(one for one in self.circuits if one.circuit.complete and one.points is not None)

    def numbered(self, number: int) -> JudgedCircuit:
        """Return a circuit by its number."""
        return next(one for one in self.circuits if one.number == number)

    def fault(
        self,
        kind: str,
        severity: Severity,
        where: Sequence[JudgedCircuit],
        words: str,
        numbers: Numbers,
        brief: str,
        told: Told = NOTHING_TOLD,
        *,
        item: str = "",
        among: Sequence[JudgedCircuit] | None = None,
    ) -> Finding:
        """Find something outside what is right on some circuits; an item's cost is over all, or ``among`` some."""
        return Finding(
            kind,
            severity,
            tuple(one.number for one in where),
            words,
            *numbers,
            *told,
            cost_points=self.lost_points(item, among) if item else 0.0,
            item=item,
            brief=brief + on_these(where),
            outside=True,
        )

    def on(self, one: JudgedCircuit) -> str:
        """Begin a sentence on a circuit: ``"On circuit 2"``, or ``"On the circuit"`` where there is one."""
        return f"On circuit {one.circuit.number}" if len(self.circuits) > 1 else "On the circuit"

    @property
    def speed_is_indicated(self) -> bool:
        """Whether the speed was judged as indicated; else as true airspeed, for want of it."""
        inside = self.flown.motion.span(self.flown.start_s, self.flown.end_s)
        return bool(np.isfinite(self.flown.motion.ias_kt[inside]).any())

    @property
    def verdict(self) -> tuple[str, ...]:
        """Sentences in plain words, the most important first."""
        return (*self.said.first, *self.said.rest)

    @property
    def said(self) -> Said:
        """The same in its two parts."""
        # Where laps end cannot be told while the fix may lie at the other end: none is said to be broken off.
        broken = [one for one in self.circuits if not one.circuit.complete and self.flown.other_end is None]
        unsure = self.flown.entry_unsure or (self.entry is not None and self.entry.may_be_circuit)
        return said(self.findings, len(self.circuits), len(broken), entry_unsure=unsure)

    @property
    def weighed_points(self) -> float | None:
        """The weighted mean of the parts, before any finding held it down."""
        return self.points if self.capped is None else self.capped.points_without

    @property
    def work_on_first(self) -> Finding | None:
        """The finding to work on first; None where nothing is advised."""
        return work_on_first(self.findings)

    def share_of(self, kind: str, circuit: int | None = None) -> float:
        """Return a part's share of the weight that was judged."""
        judged = [part for part in self.parts if part.points is not None]
        total = sum(part.weight for part in judged)
        mine = sum(part.weight for part in judged if (part.kind, part.circuit) == (kind, circuit))
        return mine / total if total > 0.0 else 0.0

    def lost_points(self, item: str, among: Sequence[JudgedCircuit] | None = None) -> float:
        """Return how many of the hold's points an item cost, over all circuits or some."""
        lost = 0.0
        for one in self.circuits if among is None else among:
            points, weights = one.scores[item].points, self.scoring.weights
            if points is not None:
                judged = sum(weights[name] for name, score in one.scores.items() if score.points is not None)
                share = self.share_of("circuit", one.number)
                lost += share * weights[item] / max(judged, 1e-9) * (100.0 - points)
        return lost
