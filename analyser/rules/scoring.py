"""How points are given: the published rule, the weights, and the tolerances that no standard sets."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import field, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal

from analyser.errors import SettingsError
from analyser.rules.graded_items import SCORED
from analyser.rules.regime import Sourced
from analyser.rules.toml_data import RuleTable, fill, raise_all, read_toml

_HERE = Path(__file__).parent

#: The items of a circuit, in the order in which they are shown.
ITEMS = tuple(SCORED)


class PointRule(Sourced):
    """Deviation in tolerances to points."""

    #: Rising deviation, never rising points; straight between, flat outside.
    knots: tuple[tuple[float, float], ...]

    def points(self, deviation: float, tolerance: float) -> float:
        """Give points, 0 to 100, for a deviation of either sign: a larger one never gets more."""
        multiple = abs(deviation) / tolerance
        below = self.knots[0]
        for above in self.knots:
            if multiple <= above[0]:
                return _between(below, above, multiple)
            below = above
        return self.knots[-1][1]


class PartWeights(Sourced):
    """Weight of each part within the hold, and how much must be judged for points to mean anything."""

    entry: float
    measuring_circuit: float
    circuit: float
    leaving: float
    least_judged: float
    least_judged_of_hold: float = 0.5


class GradeStep(RuleTable):
    """One grade, from this many points up."""

    grade: int
    from_points: float
    word: str


class Grades(Sourced):
    """Grades by points, best first."""

    steps: tuple[GradeStep, ...]

    def step(self, points: float) -> GradeStep:
        """Return the grade for points; a last bit lost in a weighted mean costs no grade."""
        return next((step for step in self.steps if points + 1e-9 >= step.from_points), self.steps[-1])

    def at_most(self, grade: GradeStep, highest: int) -> GradeStep:
        """Return a grade, or the best one that is no higher than another; the lowest where none is."""
        return next((step for step in self.steps if step.grade <= min(grade.grade, highest)), self.steps[-1])


class Unsafe(Sourced):
    """What is unsafe."""

    #: Off the level by so much.
    level_off_ft: float
    #: Beyond so many tolerances for so long.
    level_tolerances: float
    level_for_s: float
    #: Of the altitude: a steady offset of less may be the log's.
    steady_offset_share: float
    #: An outbound leg of so many times its time.
    outbound_multiple: float
    #: Beyond the maximum holding speed for so long.
    over_limit_for_s: float
    #: Of bank, as read over a few seconds.
    bank_deg: float
    #: Of the speed given: flown slower.
    slow_share: float
    #: Come back so far beside the fix.
    fix_missed_nm: float = 5.0


class BelowStandard(Sourced):
    """What is below the standard."""

    #: Back inside the tolerance within so long is prompt.
    put_right_within_s: float
    #: Outside on so many of the circuits is consistent.
    consistent_share: float
    #: Outside by so many tolerances is too far even once.
    beyond_tolerances: float
    #: Whether the first circuit's wind correction, timing and track are excused where later ones put them right.
    excuse_measuring_circuit: bool


class Cap(Sourced):
    """The best points and grade that a finding leaves."""

    points: float
    highest_grade: int


class Caps(RuleTable):
    """Caps by severity; the wrong side of the course has one of its own."""

    unsafe: Cap
    wrong_side: Cap
    below_standard: Cap
    #: Where an item lay outside its tolerance and was put right.
    outside: Cap


class DegreeTolerance(Sourced):
    """Plus or minus, degrees."""

    tolerance_deg: float


class LengthTolerance(Sourced):
    """Plus or minus, nautical miles."""

    tolerance_nm: float


class SecondsTolerance(Sourced):
    """Plus or minus, seconds."""

    tolerance_s: float


class SlowDownScoring(Sourced):
    """How it counts that the speed came down to the limit later than the rules ask."""

    severity: Literal["unsafe", "below standard", "improve"]


class RadialScoring(SlowDownScoring):
    """By how much a limiting radial may be passed, degrees, and how it counts beyond that."""

    tolerance_deg: float


class FixPassageScoring(Sourced):
    """How far beside the fix a circuit may come back before it is said, and before the fix was not met."""

    beside_nm: float
    missed_nm: float


class TrackReading(Sourced):
    """Where degrees off the course are read: not within this distance of the fix."""

    exclude_within_nm: float


class Levels(Sourced):
    """What counts as a move to another level: at least this change, at least this rate; and when it has been met."""

    change_ft: float
    rate_fpm: float
    met_within_ft: float


class EntryScoring(Sourced):
    """Weights within the entry, and what its technique is held against."""

    sector_weight: float
    angle_weight: float
    time_weight: float
    #: Of a parallel entry.
    minimum_turn_back_deg: float
    #: So far off its direction the entry's leg leads another way.
    another_way_deg: float
    not_recommended_points: float = 70.0


#: A good hand flies differences of this share of what any hand does.
_FINE = 0.4


class AdviceLimits(Sourced):
    """How much advice, and from which share of the error on; ``least_share`` is of the most costly one.

    What to change on the next circuit: the first set of changes leaves at most ``most_left`` of the error; its part
    along or across the course may grow to ``may_grow`` of the whole. All changes
    together leave ``good_enough_nm``, or what cannot be flown away. A change
    counts that moves the roll-out by ``counts_nm`` and is as much as a hand can fly, ``flyable_…``.
    """

    at_most: int
    least_share: float
    least_nm: float
    least_s: float
    most_left: float = 0.5
    may_grow: float = 0.35
    good_enough_nm: float = 0.03
    counts_nm: float = 0.03
    flyable_start_s: float = 3.0
    flyable_s: float = 3.0
    flyable_nm: float = 0.2
    flyable_bank_deg: float = 2.0
    flyable_heading_deg: float = 2.5
    flyable_course_deg: float = 5.0

    def finer(self) -> AdviceLimits:
        """Return the limits with differences that only a good hand can fly."""
        names = ("counts_nm", "flyable_s", "flyable_nm", "flyable_bank_deg", "flyable_heading_deg")
        return replace(self, **{name: _FINE * getattr(self, name) for name in names})


class LearningBands(Sourced):
    """How near the next outbound must come to what the last inbound taught.

    From ``worth_…`` on it is said how far what was taught misses what the wind asked for.
    """

    time_band_s: float
    heading_band_deg: float
    worth_time_s: float = 10.0
    worth_heading_deg: float = 5.0


#: What holds where a school's own file says nothing of these.
_UNSAID: dict[str, Any] = {"source": "the file does not say", "standing": "common practice"}
_RADIAL = RadialScoring(tolerance_deg=2.0, severity="below standard", **_UNSAID)
_FIX_PASSAGE = FixPassageScoring(beside_nm=0.5, missed_nm=1.0, **_UNSAID)
_SLOW_DOWN = SlowDownScoring(severity="improve", **_UNSAID)


class Scoring(RuleTable):
    """The whole of it, as the TOML file gives it; each part has its source.

    ``weights`` are those of the items within a circuit: the file's, else those of ``items.toml``.
    """

    key: str
    name: str
    points: PointRule
    parts: PartWeights
    grade: Grades
    unsafe: Unsafe
    below_standard: BelowStandard
    caps: Caps
    bank: DegreeTolerance
    steadiness: DegreeTolerance
    length: LengthTolerance
    track: TrackReading
    levels: Levels
    entry: EntryScoring
    leaving: SecondsTolerance
    advice: AdviceLimits
    learning: LearningBands
    weights: Mapping[str, float] = field(default_factory=lambda: SCORED)
    limiting_radial: RadialScoring = _RADIAL
    slow_down: SlowDownScoring = _SLOW_DOWN
    fix_passage: FixPassageScoring = _FIX_PASSAGE


def load_scoring(path: Path | None = None) -> Scoring:
    """Load how points are given, by a school's own file with the same keys, or by the house's.

    Raises SettingsError: the file cannot be read, a key is wrong, or a larger deviation would score more.
    """
    return _house() if path is None else _load(path)


@cache
def _house() -> Scoring:
    return _load(_HERE / "scoring.toml")


def _load(path: Path) -> Scoring:
    data = read_toml(path, error=SettingsError)
    given = data.get("weights", {})
    faults = {}
    if isinstance(given, Mapping):
        weights = {key: value for key, value in given.items() if key not in ("source", "standing")}
        data["weights"] = {**SCORED, **weights}
        faults = {f"weights.{key}": "no such item" for key in weights if key not in SCORED}
    scoring = fill(Scoring, data, file=str(path), error=SettingsError, known_faults=faults)
    raise_all(_impossible(scoring), file=str(path), error=SettingsError)
    return scoring


def _impossible(scoring: Scoring) -> dict[str, str]:
    """Find values by which no flight could be scored fairly."""
    knots, faults = scoring.points.knots, {}
    if len(knots) < 2:
        faults["points.knots"] = "needs at least two knots"
    pairs = list(itertools.pairwise(knots))
    if any(b[0] <= a[0] or b[1] > a[1] for a, b in pairs):
        faults["points.knots"] = "deviations must rise from knot to knot and points must never rise"
    if any(not 0.0 <= points <= 100.0 for _, points in knots):
        faults["points.knots"] = "points must lie between 0 and 100"
    limits = [step.from_points for step in scoring.grade.steps]
    if not limits or limits != sorted(limits, reverse=True):
        faults["grade.steps"] = "must come best first"
    for name in ("unsafe", "wrong_side", "below_standard", "outside"):
        cap: Cap = getattr(scoring.caps, name)
        if cap.highest_grade not in [step.grade for step in scoring.grade.steps]:
            faults[f"caps.{name}.highest_grade"] = "must be one of the grades"
        if not 0.0 <= cap.points <= 100.0:
            faults[f"caps.{name}.points"] = "points must lie between 0 and 100"
    tolerances = {
        "bank.tolerance_deg": scoring.bank.tolerance_deg,
        "steadiness.tolerance_deg": scoring.steadiness.tolerance_deg,
        "length.tolerance_nm": scoring.length.tolerance_nm,
        "leaving.tolerance_s": scoring.leaving.tolerance_s,
    }
    tolerances |= {
        f"unsafe.{key}": float(getattr(scoring.unsafe, key))
        for key in ("level_off_ft", "level_tolerances", "outbound_multiple")
    }
    faults |= {key: "must be above zero" for key, value in tolerances.items() if value <= 0.0}
    weights = {f"weights.{item}": weight for item, weight in scoring.weights.items()}
    parts = ("entry", "measuring_circuit", "circuit", "leaving")
    weights |= {f"parts.{part}": getattr(scoring.parts, part) for part in parts}
    return faults | {key: "must not be negative" for key, value in weights.items() if value < 0.0}


def _between(below: tuple[float, float], above: tuple[float, float], at: float) -> float:
    if above[0] == below[0]:
        return above[1]
    share = (at - below[0]) / (above[0] - below[0])
    return below[1] + share * (above[1] - below[1])
