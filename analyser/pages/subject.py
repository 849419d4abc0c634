"""One hold as it is drawn and replayed: its time series and phases, and what the debrief says, laid on the map."""

from __future__ import annotations

import math
from dataclasses import fields
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Circuit, FlownHold
from analyser.circuits.frame import hold_frame
from analyser.frozen import dataclass
from analyser.holds.kinematics import to_east_north
from analyser.pages.words import direction, number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from analyser.debrief import HoldDebrief
    from analyser.grading.judged import JudgedHold
    from analyser.grading.keeping import LevelPlan
    from analyser.holds.exact import ExactCircuit
    from analyser.schema.debrief_file import WrittenHold, WrittenPath, WrittenReflown

FloatArray = NDArray[np.float64]
#: East and north of the fix, nautical miles.
Path = tuple[FloatArray, FloatArray]

#: More points than this in one hold are thinned to every second, third … one.
MOST_POINTS = 4000


@dataclass(frozen=True)
class HoldSeries:
    """What the replay shows at each instant, (n,) arrays about a second apart, east and north from the fix.

    ``air_…`` is the same flight as the air saw it: where it would have been had the air stood still since the arrival;
    ``drift_…`` is where the fix is in that picture. ``along_nm`` runs along the inbound course (negative before the
    fix), ``cross_nm`` to the right of it as flown inbound. Across ``seams_s``, where time was taken out of the log or
    put in, nothing is timed.
    """

    time_s: FloatArray
    east_nm: FloatArray
    north_nm: FloatArray
    air_east_nm: FloatArray
    air_north_nm: FloatArray
    drift_east_nm: FloatArray
    drift_north_nm: FloatArray
    along_nm: FloatArray
    cross_nm: FloatArray
    altitude_ft: FloatArray
    ias_kt: FloatArray
    tas_kt: FloatArray
    ground_speed_kt: FloatArray
    heading_deg: FloatArray
    track_deg: FloatArray
    bank_deg: FloatArray
    in_hole: NDArray[np.bool_]
    seams_s: tuple[float, ...] = ()

    def within(self, start_s: float, end_s: float) -> slice:
        """Return the slice from ``start_s`` to ``end_s``, one point beyond each end so that spans meet."""
        first, last = np.searchsorted(self.time_s, [start_s, end_s])
        return slice(max(int(first) - 1, 0) if start_s > self.time_s[0] else 0, int(last) + 1)


def hold_series(flown: FlownHold) -> HoldSeries:
    """Take from a flown hold the series that the page draws, on every k-th point of the motion's grid."""
    motion = flown.motion
    step = float(np.median(np.diff(motion.time_s))) if motion.time_s.size > 1 else 1.0
    stride = max(1, round(1.0 / max(step, 1e-6)))
    stride = max(stride, math.ceil(motion.time_s.size / MOST_POINTS))
    east, north = motion.east_nm, motion.north_nm
    drift_east, drift_north = _drift(flown)
    frame = hold_frame(motion, flown.hold.inbound_course_true_deg)
    measured = [one.name for one in fields(HoldSeries) if hasattr(motion, one.name)]
    series: dict[str, Any] = {name: getattr(motion, name) for name in measured} | {
        "air_east_nm": east - drift_east,
        "air_north_nm": north - drift_north,
        "drift_east_nm": -drift_east,
        "drift_north_nm": -drift_north,
        "along_nm": frame.along_nm,
        "cross_nm": frame.cross_nm,
    }
    thinned = {name: values[::stride] for name, values in series.items() if name != "seams_s"}
    return HoldSeries(**thinned, seams_s=tuple(motion.seams_s))


def _drift(flown: FlownHold) -> tuple[FloatArray, FloatArray]:
    # The air's own movement, summed by trapezia from the arrival at the fix, so that both views agree there.
    motion = flown.motion
    seconds = np.diff(motion.time_s, prepend=motion.time_s[0]) / 3600.0
    moved = []
    for wind in (motion.wind_east_kt, motion.wind_north_kt):
        mean = 0.5 * (wind + np.concatenate((wind[:1], wind[:-1])))
        summed = np.cumsum(mean * seconds)
        moved.append(summed - np.interp(flown.start_s, motion.time_s, summed))
    return moved[0], moved[1]


class PhaseLine(NamedTuple):
    """How a phase is named and drawn: short code in the page, words, line, and what its clock counts."""

    code: str
    words: str
    ink: str
    width: float
    dash: tuple[float, ...] | None
    counts: str


#: Turns are thick and legs thin, the outbound half unbroken and the inbound half dashed, so that the phases can be told
#: apart without any colour.
PHASES = {
    "approach": PhaseLine("ap", "before the fix", "other", 1.0, (1.5, 3.0), "before the fix"),
    "entry": PhaseLine("en", "entry", "entry", 1.9, (1.6, 2.4), "entry"),
    "outbound_turn": PhaseLine("ot", "outbound turn", "out", 3.0, None, "outbound turn"),
    "outbound_leg": PhaseLine("ol", "outbound leg", "out", 1.5, None, "outbound clock"),
    "inbound_turn": PhaseLine("it", "inbound turn", "in", 3.0, (8.0, 2.2), "inbound turn"),
    "inbound_leg": PhaseLine("il", "inbound leg", "in", 1.5, (8.0, 2.2), "inbound clock"),
    "departure": PhaseLine("de", "after the hold", "other", 1.0, (1.5, 3.0), "after the hold"),
}


@dataclass(frozen=True)
class Span:
    """One phase in time: a key of :data:`PHASES`, its circuit (0 outside circuits), where its clock starts.

    Seconds count from the log's first sample; the outbound clock runs by the rules, the others with the phase.
    """

    phase: str
    circuit: int
    start_s: float
    end_s: float
    clock_s: float

    @property
    def in_hold(self) -> bool:
        """Whether it belongs to the hold: neither before it nor after it."""
        return bool(self.circuit) or self.phase == "entry"


def spans(flown: FlownHold) -> list[Span]:
    """Cut a flown hold's whole stretch into phases without gaps; what was not flown is left out."""
    first, last = float(flown.motion.time_s[0]), float(flown.motion.time_s[-1])
    marks: list[tuple[str, int, float, float]] = [("approach", 0, first, first)]
    if flown.entry is not None:
        marks.append(("entry", 0, flown.entry.fix_s, flown.entry.fix_s))
    for circuit in flown.circuits:
        marks += _marks(circuit)
    end = max([flown.end_s, *(circuit.end_s for circuit in flown.circuits)])
    marks.append(("departure", 0, end, end))
    closed = zip(marks, [*(mark[2] for mark in marks[1:]), last], strict=True)
    return [
        Span(phase, number, start, until, clock)
        for (phase, number, start, clock), until in closed
        if until - start > 1e-6
    ]


def _marks(circuit: Circuit) -> list[tuple[str, int, float, float]]:
    marks = []
    for phase in ("outbound_turn", "outbound_leg", "inbound_turn", "inbound_leg"):
        part = getattr(circuit, phase)
        if part is not None:
            # Between the fix and the first bank there is nothing but the pilot's reaction: part of the turn.
            start_s = circuit.start_s if phase == "outbound_turn" else part.start_s
            abeam_s = circuit.abeam_s or part.start_s
            clock_s = max(part.start_s, abeam_s) if phase == "outbound_leg" else part.start_s
            marks.append((phase, circuit.number, start_s, clock_s))
    return marks


def inner_spans(spans: Sequence[Span]) -> list[Span]:
    """Return the phases of the hold itself, or all where there are none."""
    return [span for span in spans if span.in_hold] or list(spans)


def exact_circuits(judged: JudgedHold) -> dict[int, ExactCircuit]:
    """Take, by number, the exact circuits by which the flown ones were judged: those that close."""
    exact = {one.circuit.number: one.ideal.circuit for one in judged.circuits}
    return {number: circuit for number, circuit in exact.items() if circuit.closes}


def path_on_map(exact: ExactCircuit) -> Path:
    """Lay an exact circuit on the map, from the fix round to the fix."""
    path = exact.path(2.0)
    return to_east_north(path.along_nm, path.cross_nm, exact.inbound_course_deg)


def _path(written: WrittenPath | WrittenReflown) -> Path:
    return np.asarray(written.east_nm, float), np.asarray(written.north_nm, float)


@dataclass(frozen=True)
class AreaParts:
    """The holding area on the map: its outlines, the buffer from inside to outside with the clearance asked in each.

    ``deepest`` is where the flight was furthest out, NM east and north.
    """

    outlines: dict[str, Path]
    buffer: Sequence[tuple[Path, float]]
    deepest: tuple[float, float] | None


def area_parts(document: WrittenHold) -> AreaParts | None:
    """Lay the document's outlines on the map; None where it has no airspace."""
    found = document.airspace
    if found is None:
        return None

    def on_map(along_cross: Any) -> Path:
        points = np.asarray(along_cross, float).reshape(-1, 2)
        return to_east_north(points[:, 0], points[:, 1], document.inbound_course_true)

    area, deepest = found.area, found.deepest
    place = None
    if deepest is not None:
        east, north = on_map([[deepest.along_nm, deepest.cross_nm]])
        place = (float(east[0]), float(north[0]))
    return AreaParts(
        {name: on_map(outline.along_cross_nm) for name, outline in area.outlines.items()},
        [(on_map(band.outline.along_cross_nm), band.clearance_ft) for band in area.buffer],
        place,
    )


@dataclass(frozen=True)
class Subject:
    """What the pictures of one hold are drawn from; ``order`` is its place on the page, from 1."""

    flown: FlownHold
    document: WrittenHold
    series: HoldSeries
    spans: Sequence[Span]
    exact: Mapping[int, ExactCircuit]
    levels: LevelPlan
    order: int

    @property
    def ids(self) -> str:
        """How the ids of this hold's drawings begin."""
        return f"h{self.order}"

    @property
    def variation(self) -> float | None:
        """Magnetic variation, east positive."""
        return self.document.variation

    @cached_property
    def exact_paths(self) -> dict[int, Path]:
        """The exact circuits on the map."""
        return {number: path_on_map(exact) for number, exact in self.exact.items()}

    @cached_property
    def reflown(self) -> dict[tuple[int, str], Path]:
        """The circuits flown again with a fault corrected, by number and cause."""
        return {(one.number, way.cause): _path(way) for one in self.document.circuits for way in one.reflown}

    @property
    def ideal_entry(self) -> Path | None:
        """The ideal entry's path, where one can be drawn."""
        path = None if self.document.entry is None else self.document.entry.ideal_path
        return None if path is None else _path(path)

    @cached_property
    def area(self) -> AreaParts | None:
        """The holding area, where the document has one."""
        return area_parts(self.document)

    @property
    def wind_texts(self) -> tuple[str, str]:
        """The wind from magnetic and from true north: ``"325°M 19 kt"``; empty where it is not known."""
        wind = self.document.wind
        if wind.from_true is None or wind.speed_kt is None:
            return "", ""
        magnetic, true = direction(wind.from_true, self.variation)
        return f"{magnetic} {number(wind.speed_kt)} kt", f"{true} {number(wind.speed_kt)} kt"

    @property
    def window_s(self) -> tuple[float, float]:
        """What the time strips show: half a minute before the fix to shortly after the hold."""
        inner = inner_spans(self.spans)
        first, last = float(self.series.time_s[0]), float(self.series.time_s[-1])
        return max(first, inner[0].start_s - 30.0), min(last, inner[-1].end_s + 15.0)

    @property
    def seams_s(self) -> list[float]:
        """The seams that the time strips show."""
        first, last = self.window_s
        return [seam_s for seam_s in self.series.seams_s if first < seam_s < last]


def subject_of(hold: HoldDebrief, document: WrittenHold, order: int = 1) -> Subject:
    """Gather what the pictures of one hold are drawn from."""
    flown, judged = hold.flown, hold.judged
    return Subject(
        flown, document, hold_series(flown), spans(flown), exact_circuits(judged), judged.levels, order
    )


#: The characters that series are written in: printable, and none that JSON or HTML would have to escape.
CODE = "".join(character for character in map(chr, range(35, 127)) if character not in "&<>\\'")[:86]


def replay(subject: Subject, maps: Mapping[str, dict[str, float]], circuit: int | None) -> dict[str, Any]:
    """Put together one hold's replay data as JSON has it; ``null`` where a value is not known.

    Sums and turns of what is there already (the air-mass view, along and across the course) are left to the script.
    ``maps`` are those of the pictures that carry a cursor; they show ``circuit`` at first, all where it is None.
    """
    series, flown = subject.series, subject.flown
    no_ias = bool(np.isnan(series.ias_kt).all())
    # As finely as they are shown: in figures, or as a cursor on a strip.
    columns = {
        "t": (series.time_s, 1), "e": (series.east_nm, 3), "n": (series.north_nm, 3),
        "fe": (series.drift_east_nm, 3), "fn": (series.drift_north_nm, 3), "alt": (series.altitude_ft, 0),
        "ias": (series.ias_kt, 1), "tas": (series.tas_kt, 1 if no_ias else 0), "gs": (series.ground_speed_kt, 0),
        "hdg": (series.heading_deg, 0), "bank": (series.bank_deg, 1),
    }  # fmt: skip
    return {
        "columns": {name: packed(values, decimals) for name, (values, decimals) in columns.items()},
        "spans": [
            [
                PHASES[span.phase].code,
                span.circuit,
                *(round(at_s, 1) for at_s in (span.start_s, span.end_s, span.clock_s)),
            ]
            for span in subject.spans
        ],
        "window": [round(edge, 1) for edge in subject.window_s],
        "start": round(flown.start_s, 1),
        "seams": [round(seam_s, 1) for seam_s in series.seams_s],
        "shown": circuit,
        "course": round(flown.hold.inbound_course_true_deg, 3),
        "variation": subject.variation,
        "maps": dict(maps),
    }


def phase_words() -> dict[str, list[str]]:
    """Return the phases' words by their short codes: the phase, and what its clock counts."""
    return {phase.code: [phase.words, phase.counts] for phase in PHASES.values()}


def packed(values: FloatArray, decimals: int) -> list[Any]:
    """Write a series, NaN where nothing is known, as whole numbers so small that they take few characters.

    It is ``[decimals, order, length, numbers]``: ``numbers`` counts in the last decimal and was differenced ``order``
    times: 0 where the series has gaps, else whichever of 0, 1 and 2 is shortest. Noughts at its end are left out. It
    is written in the characters of `CODE`, nearly always one a number: 0, −1, 1, −2 … stand for 0, 1, 2, 3 …, in
    digits to the base of half the code, the lowest first; all but the last digit are taken from the code's second
    half. A gap is a space. The page's script reads it back.
    """
    scaled = np.round(np.asarray(values, float) * 10.0**decimals)
    missing = np.isnan(scaled)
    whole = np.where(missing, 0.0, scaled).astype(np.int64)
    if missing.any():
        written = zip(whole.tolist(), missing.tolist(), strict=True)
        return [decimals, 0, len(whole), "".join(" " if gap else _coded(value) for value, gap in written)]
    best, order = whole, 0
    differences = whole
    for tried in (1, 2):
        differences = np.diff(differences, prepend=0)
        if np.abs(differences).sum() < np.abs(best).sum():
            best, order = differences, tried
    return [decimals, order, len(whole), "".join(map(_coded, np.trim_zeros(best, "b").tolist()))]


@lru_cache(maxsize=1 << 14)
def _coded(value: int) -> str:
    base = len(CODE) // 2
    left = 2 * value if value >= 0 else -2 * value - 1
    digits = ""
    while left >= base:
        left, digit = divmod(left, base)
        digits += CODE[base + digit]
    return digits + CODE[left]
