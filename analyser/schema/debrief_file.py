"""The debrief file as types: every part of it once, in the order of the file.

``debrief.schema.json`` says the same to other programs, with what each key means. Seconds named ``*_s`` count from the
log's first sample; ``sd`` is one sigma. Fields with a default are left out by files of schema 1. Annotations are
read when the program starts, so they are no strings here: three hundred of them take long to evaluate.
"""

from collections.abc import Mapping
from typing import Any, Self

from analyser.schema.plain_data import (
    DECIMALS,
    Degrees,
    Direction,
    Feet,
    FilePart,
    HundredThousandths,
    Hundredths,
    InUnit,
    Knots,
    LatLon,
    Miles,
    Points,
    Seconds,
    SigmaInUnit,
    TenThousandths,
    Tenths,
    Thousandths,
    Whole,
    direction,
    number,
)

#: 2 added the findings; whoever reads 1 reads 2.
SCHEMA = 2


class WrittenNotice(FilePart):
    """Something odd; the code is for programs."""

    code: str
    message: str


class WrittenNumber(FilePart):
    """A number with its unit; ``reference`` is "true" for a direction and None for anything else."""

    value: float | None
    unit: str
    reference: str | None

    def __post_init__(self) -> None:
        rounded = direction(self.value) if self.reference else number(self.value, DECIMALS.get(self.unit, 2))
        self.__dict__["value"] = rounded


class WrittenPath(FilePart):
    """Points on a map with its origin on the fix, nautical miles."""

    east_nm: tuple[float | None, ...]
    north_nm: tuple[float | None, ...]


class WrittenScore(FilePart):
    """One judged item; its numbers are in ``unit``."""

    points: Points | None
    value: InUnit | None
    target: InUnit | None
    tolerance: InUnit | None
    verdict: str
    unit: str
    sd: SigmaInUnit | None
    deviation: InUnit | None
    reference: InUnit | None
    obtained: str | None
    rule: str | None
    why: str | None
    note: str | None
    outside_s: Tenths | None = None
    longest_outside_s: Tenths | None = None

    @property
    def outside(self) -> bool:
        """Whether the value lies outside the tolerance."""
        return self.verdict == "outside"

    @classmethod
    def of(cls, *sources: Any, **other: Any) -> Self:
        """Take a score: its note says why it was not judged, or what else should be known."""
        (score,) = sources
        why, note = (score.note, "") if score.verdict == "not judged" else ("", score.note)
        return super().of(
            score, obtained=score.how, why=why, note=note, longest_outside_s=score.back_s, **other
        )


class WrittenTurn(FilePart):
    """One turn, wings leaving level to wings level again; bank and rate of its established part."""

    start_s: Seconds
    end_s: Seconds
    start_sd_s: Seconds | None
    end_sd_s: Seconds | None
    bank_mean: Degrees | None
    bank_mean_sd: Degrees | None
    bank_target: Degrees | None = None
    bank_verdict: str = "not judged"
    bank_max: Degrees | None
    bank_wander: Degrees | None
    rate_mean: Thousandths | None
    heading_change: Degrees | None


class WrittenInboundTurn(WrittenTurn):
    """The turn onto the inbound leg, and where it ended."""

    rollout_cross_track_nm: Miles | None
    rollout_cross_track_sd_nm: Miles | None = None
    rollout_along_nm: Miles | None
    rollout_heading_true: Direction | None


class WrittenOutboundLeg(FilePart):
    """The outbound leg beside the exact circuit's for the wind met."""

    start_s: Seconds
    end_s: Seconds
    abeam_s: Seconds | None
    clock: str | None
    timed_s: Seconds | None
    timed_sd_s: Seconds | None
    timed_wings_s: Seconds | None = None
    heading_true: Direction | None
    heading_sd: Degrees | None
    correction: Degrees | None
    track_true: Direction | None
    ideal_heading_true: Direction | None
    ideal_heading_sd: Degrees | None
    ideal_timed_s: Seconds | None
    ideal_timed_sd_s: Seconds | None
    ideal_timed_wings_s: Seconds | None = None


class WrittenInboundLeg(FilePart):
    """The inbound leg, wings level to the fix; ``max`` is signed, positive right."""

    start_s: Seconds
    end_s: Seconds
    duration_s: Seconds | None
    duration_sd_s: Seconds | None
    ideal_duration_s: Seconds | None
    ideal_duration_sd_s: Seconds | None
    cross_track_rms_nm: Miles | None
    cross_track_max_nm: Miles | None
    off_course_rms_deg: Degrees | None
    off_course_max_deg: Degrees | None
    deflection_rms: Thousandths | None
    deflection_max: Thousandths | None
    heading_true: Direction | None
    heading_sd: Degrees | None
    correction: Degrees | None
    ideal_heading_true: Direction | None
    track_true: Direction | None


class WrittenIdeal(FilePart):
    """The exact circuit for a circuit's own wind and airspeed."""

    exists: bool
    closes: bool
    why_not: str | None
    bank: Degrees | None
    rate: Thousandths | None
    roll_s: Seconds | None
    inbound_heading_true: Direction | None
    inbound_correction: Degrees | None
    inbound_time_s: Seconds | None
    inbound_distance_nm: Miles | None
    outbound_heading_true: Direction | None
    outbound_correction: Degrees | None
    outbound_track_true: Direction | None
    outbound_time_s: Seconds | None
    outbound_timed_s: Seconds | None
    drift_multiple: Hundredths | None
    gate_bearing: Degrees | None
    total_s: Seconds | None


class WrittenError(FilePart):
    """Measured error of a circuit against the exact one, at the roll-out and at the circuit's end."""

    cross_track_nm: Miles
    along_track_nm: Miles
    time_s: Seconds | None
    end_cross_track_nm: Miles | None
    end_along_track_nm: Miles | None


class WrittenShare(FilePart):
    """One cause's share of a circuit's error; all shares add up to it. The advice to give first has rank 1."""

    cause: str
    cross_track_nm: Miles
    along_track_nm: Miles
    time_s: Seconds | None
    end_cross_track_nm: Miles | None
    end_along_track_nm: Miles | None
    sd_nm: Miles | None
    advice: str | None
    rank: int | None
    fly: WrittenNumber | None
    flown: WrittenNumber | None


class WrittenRollout(FilePart):
    """Where a circuit that is flown again rolls out."""

    cross_track_nm: Miles | None
    along_nm: Miles | None


class WrittenReflown(FilePart):
    """The measured circuit with one fault put right, or all."""

    cause: str
    east_nm: tuple[float | None, ...]
    north_nm: tuple[float | None, ...]
    rollout: WrittenRollout


class WrittenThumb(FilePart):
    """A rule of thumb beside the exact figure; ``error`` is the rule minus the exact one."""

    what: str
    rule: str
    words: str
    source: str
    standing: str
    value: InUnit | None
    exact: InUnit | None
    error: InUnit | None
    unit: str
    good: bool


class WrittenLeg(FilePart):
    """What ends the outbound leg: the file has one of the two keys."""

    minutes: Thousandths | None = None
    distance_nm: Miles | None = None

    def plain(self) -> dict[str, Any]:
        """Leave out the key that does not apply."""
        absent = "minutes" if self.distance_nm is not None else "distance_nm"
        return {key: value for key, value in super().plain().items() if key != absent}


class WrittenCircuitWind(FilePart):
    """Mean wind met on one circuit, TOWARDS."""

    east_kt: Knots | None
    north_kt: Knots | None
    sd_kt: Knots | None


class WrittenCircuit(FilePart):
    """One lap, fix to fix."""

    number: int
    start_s: Seconds
    end_s: Seconds
    complete: bool
    leg: WrittenLeg | None = None
    timed: str = "not judged"
    outbound_turn: WrittenTurn | None
    outbound_leg: WrittenOutboundLeg | None
    inbound_turn: WrittenInboundTurn | None
    inbound_leg: WrittenInboundLeg | None
    fix_miss_nm: Miles | None
    fix_cross_track_nm: Miles | None
    start_delay_s: Seconds | None
    total_s: Seconds | None
    altitude_ft: Feet | None
    altitude_error_max_ft: Feet | None
    speed_error_max_kt: Knots | None
    tas_kt: Knots | None
    tas_sd_kt: Knots | None
    wind: WrittenCircuitWind
    ideal: WrittenIdeal
    error_budget: tuple[WrittenShare, ...]
    error: WrittenError | None
    error_budget_missing: str | None
    reflown: tuple[WrittenReflown, ...]
    rules_of_thumb: tuple[WrittenThumb, ...]
    scores: Mapping[str, WrittenScore]
    inbound_correction: WrittenScore
    points: Points | None

    @property
    def all_scores(self) -> dict[str, WrittenScore]:
        """The items that carry points, and after them what is shown beside."""
        return {**self.scores, "inbound_correction": self.inbound_correction}

    @property
    def rollout_cross_track_nm(self) -> float | None:
        """Where the inbound turn ended, positive right of the course; None where that is not known."""
        return None if self.inbound_turn is None else self.inbound_turn.rollout_cross_track_nm


class WrittenInterception(FilePart):
    """How the inbound course was met after the entry's turn back."""

    rollout_cross_track_nm: Miles
    angle: Degrees
    met_at_nm: Miles | None


class WrittenArrival(FilePart):
    """The speed before and over the fix, knots indicated, and its limit."""

    speed_at_fix_kias: Knots | None
    speed_before_kias: Knots | None
    limit_kias: Knots | None
    slowed_before_fix_s: Seconds | None
    verdict: str
    rule: str
    slow_down: WrittenScore | None = None


class WrittenEntry(FilePart):
    """How the hold was joined."""

    fix_s: Seconds
    end_s: Seconds
    arrival_heading_true: Direction | None
    arrival_heading_sd: Degrees | None
    sectors_allowed: tuple[str, ...]
    flown: str
    verdict: str
    recommended: bool | None = None
    note: str | None
    points: Points | None
    angle: WrittenScore | None
    time: WrittenScore | None
    off_side_nm: Miles | None
    turn_back: Degrees | None
    turn_back_right_way: bool | None
    interception: WrittenInterception | None
    arrival: WrittenArrival
    ideal_path: WrittenPath | None


class WrittenLesson(FilePart):
    """What the circuit before taught, and what was made of it."""

    circuit: int
    quantity: str
    before: WrittenNumber | None
    taught: WrittenNumber | None
    flown: WrittenNumber | None
    exact: WrittenNumber | None
    outcome: str
    rule: str

    @property
    def is_right(self) -> bool:
        """Whether what was taught was flown."""
        return self.outcome in ("kept", "right")


class WrittenShortened(FilePart):
    """A circuit shortened to leave on time."""

    total_s: Seconds | None
    outbound_heading_true: Direction | None
    outbound_timed_s: Seconds | None
    inbound_distance_nm: Miles | None


class WrittenPlan(FilePart):
    """How to leave on time, as it stood at a passage of the fix."""

    fix_s: Seconds
    to_go_s: Seconds | None
    feasible: bool
    why_not: str | None
    full_circuits: int
    shortened: tuple[WrittenShortened, ...]
    leaves_s: Seconds | None
    turn_in_s: Seconds | None


class WrittenTurnIn(FilePart):
    """Turn in here, be back then."""

    outbound_timed_s: Seconds | None
    clock_from: str
    outbound_timed_wings_s: Seconds | None = None
    outbound_heading_true: Direction | None
    turn_in_after_s: Seconds
    back_after_s: Seconds


class WrittenLeaving(FilePart):
    """Leaving the fix at a given time."""

    leave_at_s: Seconds
    left_s: Seconds | None
    score: WrittenScore
    plans: tuple[WrittenPlan, ...]
    turn_in: tuple[WrittenTurnIn, ...]


class WrittenFinding(FilePart):
    """One thing that is said of the hold."""

    kind: str
    severity: str
    circuits: tuple[int, ...]
    value: InUnit | None
    target: InUnit | None
    tolerance: InUnit | None
    sd: SigmaInUnit | None
    unit: str | None
    sentence: str
    advice: str | None
    brief: str | None
    cost_points: Hundredths | None
    item: str | None
    directions_true: tuple[float, ...]

    @classmethod
    def of(cls, *sources: Any, **other: Any) -> Self:
        """Take a finding, its directions rounded."""
        (finding,) = sources
        return super().of(finding, directions_true=map(direction, finding.directions_true_deg), **other)


class WrittenExcursion(FilePart):
    """One time that altitude, speed, bank or track left its tolerance."""

    item: str
    start_s: Seconds
    end_s: Seconds
    worst: float
    worst_s: Seconds
    reference: float
    circuits: tuple[int, ...]
    came_back: bool


class WrittenCap(FilePart):
    """What the points were held down to by a finding."""

    points_without: Points | None
    at: Points | None
    why: str
    kind: str
    sentence: str


class WrittenVerdict(FilePart):
    """The verdict in two parts: what stands first, and what was learned and how the hold was left."""

    first: str
    rest: str


class WrittenAdvice(FilePart):
    """What to change on the next circuit."""

    cause: str
    causes: tuple[str, ...] = ()
    first: bool = False
    advice: str
    rule: str | None = None
    fly: WrittenNumber | None
    flown: WrittenNumber | None


class WrittenClock(FilePart):
    """Which leg the rules time, and where that is said."""

    fixes: str
    source: str


class WrittenScorePart(FilePart):
    """One part of the weighted mean that the hold's points are; ``circuit`` is None for entry and leaving."""

    part: str
    circuit: int | None
    points: Points | None
    weight: Thousandths

    @property
    def weight_words(self) -> str:
        """Say what the part counts where that is not 1: ``" (weight 0.5)"``."""
        return "" if round(self.weight, 2) == 1.0 else f" (weight {self.weight:.2g})"


class WrittenScoring(FilePart):
    """By which rule points were given."""

    name: str
    points_by_tolerances: tuple[tuple[float, float], ...]
    clock: WrittenClock
    parts: tuple[WrittenScorePart, ...] = ()


class WrittenPosition(FilePart):
    """A place."""

    lat: LatLon | None
    lon: LatLon | None

    @classmethod
    def of(cls, *sources: Any, **other: Any) -> Self:
        """Take the fix of a hold."""
        (hold,) = sources
        return cls(lat=hold.fix_lat_deg, lon=hold.fix_lon_deg, **other)


class WrittenFix(WrittenPosition):
    """The fix; ``sd_nm`` per axis, None where it was given."""

    lat: LatLon
    lon: LatLon
    sd_nm: Miles | None


class WrittenWind(FilePart):
    """Mean wind of the hold: where it comes FROM, its components TOWARDS, and sigma per axis."""

    from_true: Direction | None
    speed_kt: Knots | None
    east_kt: Knots | None
    north_kt: Knots | None
    sd_kt: Knots | None
    source: str


class WrittenOtherEnd(FilePart):
    """Where the fix may lie as well, at the other end of the racetrack."""

    fix: WrittenPosition
    inbound_course_true: Direction
    chance: Hundredths


class WrittenInferred(FilePart):
    """What the flight itself says of a hold that was given."""

    fix: WrittenPosition
    inbound_course_true: Direction
    turns: str
    leg: WrittenLeg | None


class WrittenFlownPath(FilePart):
    """The flown path, thinned, nautical miles from the fix."""

    time_s: tuple[float | None, ...]
    east_nm: tuple[float | None, ...]
    north_nm: tuple[float | None, ...]


class WrittenOutline(FilePart):
    """Corners of an outline, in order: from the fix in the hold's frame, and latitude and longitude."""

    along_cross_nm: tuple[tuple[float, float], ...]
    lat_lon: tuple[tuple[float, float], ...]


class WrittenBuffer(FilePart):
    """One step of the buffer round the holding area."""

    number: int
    inner_nm: float
    outer_nm: float
    clearance_ft: float
    outline: WrittenOutline


class WrittenArea(FilePart):
    """What the holding area was drawn for, and its outlines by name."""

    ias_kt: Tenths
    tas_kt: Knots
    altitude_ft: Whole
    isa_deviation_c: Tenths
    wind_kt: Tenths
    turn_rate_dps: TenThousandths
    radius_nm: Miles
    minutes: Thousandths | None
    distance_nm: Thousandths | None
    fix_tolerance: str
    clearance_ft: float
    outlines: Mapping[str, WrittenOutline]
    buffer: tuple[WrittenBuffer, ...]


class WrittenEdge(FilePart):
    """A flight's nearest to the edge of its area, or furthest out: positive inside."""

    margin_nm: Hundredths
    time_s: Tenths
    along_nm: Hundredths
    cross_nm: Hundredths
    lat: HundredThousandths
    lon: HundredThousandths
    phase: str
    circuit: int | None
    buffer_step: int | None
    outside_whole_nm: Hundredths


class WrittenDoubt(FilePart):
    """How far outside the drawn area a flight must be to be surely outside the true one, nautical miles."""

    circuit: Hundredths
    entry: Hundredths


class WrittenAreaSpeed(FilePart):
    """The speed that the area was drawn for, and what was flown."""

    limit_kias: Tenths
    most_kias: Tenths | None
    most_sd_kt: Tenths | None = None
    faster_s: Tenths
    area_valid: bool | None


class WrittenAreaLevel(FilePart):
    """The level that the area was drawn for, and what was flown."""

    drawn_for_ft: Whole
    lowest_ft: Whole | None
    highest_ft: Whole | None


class WrittenObstacle(FilePart):
    """What one obstacle asks for."""

    name: str
    place: str
    lat: LatLon
    lon: LatLon
    elevation_ft: Feet
    outside_nm: Hundredths
    buffer_step: int | None
    clearance_ft: float
    total_ft: Feet
    level_ft: float


class WrittenMinimumLevel(FilePart):
    """Lowest holding level over the obstacles of the user's file; also with each nearer by ``if_nearer_nm``."""

    caution: str
    level_ft: float | None
    high_terrain: bool
    controlling: WrittenObstacle | None
    if_nearer_nm: float
    if_nearer: WrittenObstacle | None
    counted: int
    read: int
    lowest_flown_ft: Whole | None
    flown_below: bool | None
    said: tuple[str, ...]


class WrittenAirspace(FilePart):
    """The hold against the holding area: a training illustration."""

    caution: str
    not_faa: str | None
    simplified: tuple[str, ...]
    said: tuple[str, ...]
    first: tuple[str, ...]
    strayed: bool | None
    inside_share: TenThousandths | None
    buffer_share: TenThousandths | None
    beyond_share: TenThousandths | None
    deepest: WrittenEdge | None
    cause: str | None
    entry: WrittenEdge | None
    circuits: tuple[WrittenEdge, ...]
    position_sd_nm: Thousandths
    doubt_nm: WrittenDoubt
    speed: WrittenAreaSpeed
    level: WrittenAreaLevel
    minimum_level: WrittenMinimumLevel | None
    area: WrittenArea

    @property
    def edges(self) -> list[WrittenEdge]:
        """Nearest to the edge in the entry and on each circuit, where it was measured."""
        return [edge for edge in (self.entry, *self.circuits) if edge is not None]


class WrittenHold(FilePart):
    """One hold."""

    definition: str
    definition_file: str | None = None
    name: str
    fix: WrittenFix
    inbound_course_true: Direction
    inbound_course_magnetic: Direction | None
    inbound_course_sd: Degrees | None
    other_end: WrittenOtherEnd | None = None
    variation: Degrees | None
    turns: str
    turns_flown: str | None = None
    leg: WrittenLeg
    rules: str
    start_s: Seconds
    end_s: Seconds
    wind: WrittenWind
    tas_kt: Knots | None
    tas_sd_kt: Knots | None
    tas_wander_kt: Knots | None
    altitude_ft: Feet | None
    level_ft: Feet | None = None
    entry: WrittenEntry | None
    flown_path: WrittenFlownPath | None = None
    circuits: tuple[WrittenCircuit, ...]
    points: Points | None
    grade: int | None
    grade_word: str | None
    ungraded: str | None = None
    capped: WrittenCap | None = None
    findings: tuple[WrittenFinding, ...] = ()
    excursions: tuple[WrittenExcursion, ...] = ()
    verdict: str
    verdict_parts: WrittenVerdict | None = None
    work_on_first: str | None
    advice: tuple[WrittenAdvice, ...]
    learning: tuple[WrittenLesson, ...]
    leaving: WrittenLeaving | None
    scoring: WrittenScoring
    airspace: WrittenAirspace | None
    inferred: WrittenInferred | None
    notices: tuple[WrittenNotice, ...]


class WrittenLog(FilePart):
    """The log that was debriefed; its name is untrusted text."""

    name: str
    format: str
    sha256: str
    samples: int
    duration_s: Seconds | None
    interval_s: Thousandths | None
    start_utc: str | None
    channels: tuple[str, ...]
    notices: tuple[WrittenNotice, ...]


class WrittenRules(FilePart):
    """The rules a hold was judged by, and the document behind them."""

    key: str
    document: str


class WrittenStandard(FilePart):
    """The test standard, and the document behind it."""

    key: str
    name: str
    document: str | None


class WrittenPossibleHold(FilePart):
    """What may have been a hold: nothing of it is judged."""

    start_s: Seconds
    end_s: Seconds
    fix: WrittenPosition
    inbound_course_true: Direction
    turns: str
    laps: int
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    coarse: bool


class WrittenReason(FilePart):
    """What was not taken for a hold, and why."""

    code: str
    sentence: str
    start_s: Seconds
    end_s: Seconds


class WrittenFit(FilePart):
    """How a hold that was given fits the flight; ``holds`` are the numbers of those it was held against."""

    file: str
    name: str
    code: str
    sentence: str
    nearest_nm: Miles | None
    holds: tuple[int, ...]
    named: bool


class WrittenDebrief(FilePart):
    """The whole file."""

    schema: int = SCHEMA
    caution: str
    log: WrittenLog
    rules: WrittenRules
    standard: WrittenStandard
    nearest_miss: str | None
    possible_holds: tuple[WrittenPossibleHold, ...] = ()
    dropped: tuple[WrittenReason, ...] = ()
    definition_fit: tuple[WrittenFit, ...] = ()
    holds: tuple[WrittenHold, ...]
