"""A circuit as the pilot decides it, as it should have been decided, and as measured flown again on paper.

Eight decisions give, with wind and airspeed, the roll-out point. The outbound clock is one of them, by the rules from
passing abeam the fix. That is why whatever happened before abeam costs nothing along the course if the pilot timed
rightly: the clock takes it out.

Three replays tell apart what no decision explains: with the measured headings at the mean airspeed in the
mean wind; then with the measured airspeed; then with the measured wind, which must give back the measured
roll-out. In each the outbound clock is kept: had the wind changed otherwise before abeam, the pilot would
have started the clock elsewhere and turned in after the same time.

Points, velocities and headings are in the axes of :mod:`analyser.holds.kinematics`; the outbound leg is near 180, the
roll-out near 360.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Collection
from dataclasses import fields, replace
from functools import cached_property, lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Turn
from analyser.circuits.frame import HoldFrame
from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import DRAWN
from analyser.grading.lap import Lap
from analyser.grading.terms import Clock
from analyser.holds.kinematics import SteadyFlight, Trajectory, TurnPath
from analyser.motion.motion import Motion

ComplexArray = NDArray[np.complex128]
FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Decisions:
    """What was flown, or should have been, in the order in which it is decided."""

    #: Position on passing the fix, nautical miles.
    fix_crossing: complex
    #: Heading at the start of the outbound turn.
    arrival_heading: float
    #: Seconds from passing the fix to leaving level.
    outbound_turn_start: float
    #: The turn rate that the bank gives, degrees per second.
    outbound_turn_bank: float
    outbound_heading: float
    #: Seconds by the clock; along the course, nautical miles, where a length ends the leg.
    outbound_time: float
    inbound_turn_bank: float
    #: Heading at the end of the inbound turn.
    rollout_heading: float


#: The decisions, in that order; each is a cause in the error budget.
DECISIONS = tuple(field.name for field in fields(Decisions))


@dataclass(frozen=True)
class FlownDecisions:
    """A circuit that follows from decisions."""

    decisions: Decisions
    flight: SteadyFlight
    clock: Clock

    def is_finite(self) -> bool:
        """Return whether every decision is known."""
        return all(cmath.isfinite(getattr(self.decisions, name)) for name in DECISIONS)

    @property
    def turn_start(self) -> complex:
        """Where the outbound turn begins."""
        one = self.decisions
        return (
            one.fix_crossing + self.flight.velocity_kt(one.arrival_heading) * one.outbound_turn_start / 3600.0
        )

    @property
    def first_turn(self) -> TurnPath:
        """The outbound turn."""
        one = self.decisions
        angle = max(one.outbound_heading - one.arrival_heading, 0.0)
        return TurnPath(angle, one.outbound_turn_bank, self.flight.roll_s)

    @property
    def second_turn(self) -> TurnPath:
        """The inbound turn."""
        one = self.decisions
        angle = max(one.rollout_heading - one.outbound_heading, 0.0)
        return TurnPath(angle, one.inbound_turn_bank, self.flight.roll_s)

    @cached_property
    def level(self) -> complex:
        """Where the outbound turn ends."""
        return self.turn_start + self.flight.turned_nm(self.first_turn, self.decisions.arrival_heading)

    @cached_property
    def abeam_after_level_s(self) -> float:
        """When the fix is passed abeam, seconds after wings level; negative where still in the turn."""
        if self.level.real > 0.0:
            away = self.flight.velocity_kt(self.decisions.outbound_heading).real
            return -self.level.real * 3600.0 / away if away < 0.0 else 0.0
        return _abeam_in_turn_s(self.flight, self.first_turn, self.decisions.arrival_heading, self.turn_start)

    @cached_property
    def leg_s(self) -> float:
        """Outbound leg from wings level to the start of the inbound turn."""
        until = self.decisions.outbound_time
        if self.clock == "wings level":
            return until
        if self.clock == "abeam":
            return until + self.abeam_after_level_s
        away = self.flight.velocity_kt(self.decisions.outbound_heading).real
        return (until - self.level.real) * 3600.0 / away

    @property
    def turn_in(self) -> complex:
        """Where the inbound turn begins."""
        return self.level + self.flight.velocity_kt(self.decisions.outbound_heading) * self.leg_s / 3600.0

    @property
    def rollout(self) -> complex:
        """Where the inbound turn ends."""
        return self.turn_in + self.flight.turned_nm(self.second_turn, self.decisions.outbound_heading)


@lru_cache(maxsize=1024)
def _abeam_in_turn_s(flight: SteadyFlight, turn: TurnPath, heading_deg: float, start: complex) -> float:
    """Find the last crossing of the abeam line within a turn, outbound; 0 (wings level) where none."""
    time_s = np.linspace(0.0, turn.duration_s, 181)
    along = start.real + flight.in_turn_nm(turn, heading_deg, time_s).real
    crossed_s = _crossed_outbound_s(time_s, along)
    return 0.0 if crossed_s is None else crossed_s - turn.duration_s


def _crossed_outbound_s(time_s: FloatArray, along_nm: FloatArray) -> float | None:
    """Return when the abeam line was last crossed outbound; None where it was not."""
    crossed = np.flatnonzero((along_nm[:-1] > 0.0) & (along_nm[1:] <= 0.0))
    if crossed.size == 0:
        return None
    i = int(crossed[-1])
    share = along_nm[i] / (along_nm[i] - along_nm[i + 1])
    return float(time_s[i] + share * (time_s[i + 1] - time_s[i]))


@dataclass(frozen=True)
class Axes:
    """The axes of one hold."""

    #: The motion along and right of the inbound course.
    frame: HoldFrame
    #: Inbound course on the map.
    course_deg: float
    #: +1 right-hand, -1 left-hand.
    side: int

    def at(self, time_s: float) -> complex:
        """Return the measured position, nautical miles from the fix."""
        along, right = self.frame.at(time_s)
        return complex(along, self.side * right)

    def turned(self, north_and_east: ComplexArray) -> ComplexArray:
        """Turn plane numbers north + i·east into these axes."""
        turned = north_and_east * np.exp(-1j * np.radians(self.course_deg))
        return np.asarray(turned.real + 1j * self.side * turned.imag)

    def vector(self, east: float, north: float) -> complex:
        """Turn one vector of the map into these axes."""
        return complex(self.turned(np.array(north + 1j * east)))

    def heading(self, heading_deg: float, near_deg: float) -> float:
        """Turn a heading into these axes, within half a turn of ``near_deg``."""
        off = self.side * (heading_deg - self.course_deg)
        return near_deg + wrap180(off - near_deg)

    def heading_on_map(self, heading_deg: float) -> float:
        """Turn a heading of these axes back into one on the map, [0, 360)."""
        return float((self.course_deg + self.side * heading_deg) % 360.0)

    def on_map(self, points: ComplexArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Turn points of these axes into east and north of the fix."""
        plain = (points.real + 1j * self.side * points.imag) * np.exp(1j * np.radians(self.course_deg))
        return np.asarray(plain.imag), np.asarray(plain.real)


@dataclass(frozen=True)
class Instants:
    """The instants of one circuit, seconds from the log's first sample."""

    #: Passing the fix, leaving level, wings level outbound, leaving level again, wings level inbound, circuit's end.
    fix_s: float
    turn_s: float
    level_s: float
    turn_in_s: float
    rollout_s: float
    end_s: float


def replayed(
    motion: Motion, axes: Axes, at: Instants, taken: FlownDecisions, *, measured: Collection[str]
) -> complex:
    """Return where the inbound turn would have ended with the measured headings, and what else is ``measured``.

    That is ``"airspeed"`` and ``"wind"``; what is not is the circuit's mean.
    """
    moved = partial(_moved, motion, axes, taken.flight, measured)
    first_s, first = moved(min(at.fix_s, at.turn_s), at.level_s)
    # The path hangs on the measured position over the fix.
    hung = complex(np.interp(at.fix_s, first_s, first.real), np.interp(at.fix_s, first_s, first.imag))
    first = first - hung + axes.at(at.fix_s)
    leg, second = moved(at.level_s, at.turn_in_s)[1], moved(at.turn_in_s, at.rollout_s)[1]
    velocity = complex(leg[-1] / (at.turn_in_s - at.level_s))
    return complex(first[-1] + velocity * _leg_s(at, taken, first_s, first, velocity) + second[-1])


def _leg_s(
    at: Instants, taken: FlownDecisions, first_s: FloatArray, first: ComplexArray, velocity: complex
) -> float:
    """Length of the outbound leg by the same clock, on a replay's own path."""
    level, outbound_time = complex(first[-1]), taken.decisions.outbound_time
    if taken.clock == "wings level" or velocity.real >= 0.0:
        return at.turn_in_s - at.level_s
    if taken.clock == "length":
        return (outbound_time - level.real) / velocity.real
    if level.real > 0.0:
        return outbound_time - level.real / velocity.real
    abeam_s = _crossed_outbound_s(first_s, first.real)
    return outbound_time + (0.0 if abeam_s is None else abeam_s - at.level_s)


def _moved(
    motion: Motion, axes: Axes, flight: SteadyFlight, measured: Collection[str], start_s: float, end_s: float
) -> tuple[FloatArray, ComplexArray]:
    """Integrate the velocity from one instant to another: times, and displacement since the start."""
    grid = motion.time_s
    first = np.searchsorted(grid, start_s + 1e-6, side="right")
    inner = grid[first : np.searchsorted(grid, end_s - 1e-6)]
    time_s = np.concatenate([[start_s], inner, [end_s]])
    heading = np.radians(np.interp(time_s, grid, motion.heading_unwound_deg))
    tas = np.interp(time_s, grid, motion.tas_kt) if "airspeed" in measured else flight.tas_kt
    velocity = axes.turned(tas * np.exp(1j * heading))
    if "wind" in measured:
        east = np.interp(time_s, grid, motion.wind_east_kt)
        north = np.interp(time_s, grid, motion.wind_north_kt)
        velocity = velocity + axes.turned(north + 1j * east)
    else:
        velocity = velocity + flight.wind_kt
    steps = 0.5 * (velocity[1:] + velocity[:-1]) * np.diff(time_s) / 3600.0
    return time_s, np.concatenate([[0.0], np.cumsum(steps)])


def reflown(
    axes: Axes, at: Instants, taken: FlownDecisions, righted: FlownDecisions
) -> tuple[FloatArray, FloatArray]:
    """Fly a measured circuit again as decided otherwise: what no decision explains stays as it was measured.

    East and north of the fix, (n,) each, from passing the fix round to the end of the circuit.
    """
    path = [
        _measured(axes, start, end, old.size) + new - old
        for start, end, old, new in zip(
            (at.fix_s, at.turn_s, at.level_s, at.turn_in_s),
            (at.turn_s, at.level_s, at.turn_in_s, at.rollout_s),
            _phases(taken),
            _phases(righted),
            strict=True,
        )
    ]
    if at.end_s > at.rollout_s + 1.0:
        again = righted.decisions != taken.decisions
        path.append(
            _homeward(righted, complex(path[-1][-1]))
            if again
            else _measured(axes, at.rollout_s, at.end_s, DRAWN.points[4])
        )
    return axes.on_map(np.concatenate(path))


def _homeward(circuit: FlownDecisions, rollout: complex) -> ComplexArray:
    """Meet the inbound course from the new roll-out, at the usual angle, and track it to the fix."""
    decisions = circuit.decisions
    heading_deg = wrap180(decisions.rollout_heading)
    way = Trajectory(circuit.flight, decisions.inbound_turn_bank, heading_deg, rollout)
    if not way.meet_course(None, (0, 0, 0)):
        # Too near the fix to meet the course before it: straight to the fix.
        return np.asarray(np.linspace(rollout, 0j, DRAWN.points[4]), complex)
    points = way.points()
    at_s = np.linspace(0.0, points.time_s[-1], DRAWN.points[4])
    return np.asarray(np.interp(at_s, points.time_s, points.along_nm + 1j * points.cross_nm))


def _measured(axes: Axes, start_s: float, end_s: float, points: int) -> ComplexArray:
    return np.array([axes.at(time_s) for time_s in np.linspace(start_s, end_s, points)])


def _phases(circuit: FlownDecisions) -> list[ComplexArray]:
    """Lay out fix to turn, outbound turn, outbound leg, inbound turn, each at even fractions of its time."""
    taken = circuit.decisions

    def line(start: complex, end: complex, points: int) -> ComplexArray:
        return np.asarray(start + (end - start) * np.linspace(0.0, 1.0, points), complex)

    def turn(start: complex, turn: TurnPath, heading_deg: float, points: int) -> ComplexArray:
        time_s = np.linspace(0.0, turn.duration_s, points)
        return np.asarray(start + circuit.flight.in_turn_nm(turn, heading_deg, time_s), complex)

    return [
        line(taken.fix_crossing, circuit.turn_start, DRAWN.points[0]),
        turn(circuit.turn_start, circuit.first_turn, taken.arrival_heading, DRAWN.points[1]),
        line(circuit.level, circuit.turn_in, DRAWN.points[2]),
        turn(circuit.turn_in, circuit.second_turn, taken.outbound_heading, DRAWN.points[3]),
    ]


def instants_of(lap: Lap) -> Instants | str:
    """Read the instants of a circuit; or say why its error cannot be split: parts missing, or not measured well."""
    circuit = lap.circuit
    first, second = circuit.outbound_turn, circuit.inbound_turn
    if first is None or second is None or circuit.outbound_leg is None:
        return "the circuit has no outbound leg between two turns"
    if second.start_s - first.end_s < 1.0:
        return "there was no outbound leg between the turns"
    if circuit.circling_s(circuit.start_s, second.end_s):
        return "a full circle was flown within the circuit"
    if lap.in_hole(circuit.start_s, second.end_s):
        return "the log has a hole between the fix and the roll-out"
    turns = (first.start_s, first.end_s, second.start_s, second.end_s)
    fault = _turn_fault(lap, first) or _turn_fault(lap, second)
    return fault or Instants(circuit.start_s, *turns, circuit.end_s)


def _turn_fault(lap: Lap, turn: Turn) -> str:
    """Say why a turn cannot be reckoned with; empty where it can."""
    if turn.heading_change_deg * lap.flown.hold.side <= 0.0:
        return "a turn went the other way than the hold's"
    if not turn.bank_mean_sd_deg <= lap.scoring.bank.tolerance_deg:
        return "the turns are too coarsely recorded"
    if (
        not abs(turn.rate_mean_dps) >= DRAWN.least_rate_dps
        or abs(turn.heading_change_deg) < DRAWN.least_turn_deg
    ):
        return "one of the turns is too wide or too short to be a hold's"
    return ""


def _flight(lap: Lap, axes: Axes) -> SteadyFlight:
    circuit = lap.circuit
    wind_kt = axes.vector(circuit.wind_east_kt, circuit.wind_north_kt)
    return SteadyFlight(circuit.tas_kt, wind_kt, lap.ideal.circuit.roll_s)


def as_taken(lap: Lap, axes: Axes, at: Instants) -> FlownDecisions:
    """Read the decisions off the measured circuit."""
    circuit, motion = lap.circuit, lap.flown.motion
    assert circuit.outbound_turn and circuit.inbound_turn and circuit.outbound_leg
    times = {
        "length": axes.at(at.turn_in_s).real,
        "abeam": at.turn_in_s - max(circuit.abeam_s or 0.0, at.fix_s),
        "wings level": at.turn_in_s - at.level_s,
    }
    early = lap.turned_before
    taken = Decisions(
        axes.at(at.fix_s) if early is None else complex(0.0, axes.side * early[1]),
        axes.heading(motion.at("heading_deg", at.turn_s), 0.0),
        at.turn_s - at.fix_s if early is None else early[0],
        abs(circuit.outbound_turn.rate_mean_dps),
        axes.heading(circuit.outbound_leg.heading_deg, 180.0),
        times[lap.terms.clock],
        abs(circuit.inbound_turn.rate_mean_dps),
        axes.heading(motion.at("heading_deg", at.rollout_s), 360.0),
    )
    return FlownDecisions(taken, _flight(lap, axes), lap.terms.clock)


def as_right(lap: Lap, axes: Axes) -> FlownDecisions:
    """Read the decisions off the exact circuit, which closes, by the same clock."""
    exact, clock = lap.ideal.circuit, lap.terms.clock
    right = Decisions(
        0j,
        exact.side * exact.inbound_drift_correction_deg,
        0.0,
        exact.turn_rate_dps,
        axes.heading(exact.outbound_heading_deg, 180.0),
        exact.outbound_end_along_nm if clock == "length" else lap.ideal.outbound_s(clock)[0],
        exact.turn_rate_dps,
        360.0 + exact.side * exact.inbound_drift_correction_deg,
    )
    return FlownDecisions(right, _flight(lap, axes), clock)


def spreads(lap: Lap, taken: FlownDecisions) -> dict[str, float]:
    """Return how far the roll-out moves by one sigma of each cause, nautical miles; infinite where unknown."""
    moved = {cause: _moved_by(taken, cause, sd) for cause, sd in _sigmas(lap, taken).items()}
    circuit = lap.circuit
    assert circuit.inbound_turn
    hours = (circuit.inbound_turn.end_s - circuit.start_s) / 3600.0
    return moved | {
        # What the mean bank does not explain is only as sure as the mean bank.
        "unsteadiness": math.hypot(moved["outbound_turn_bank"], moved["inbound_turn_bank"]),
        "airspeed": circuit.tas_sd_kt * hours,
        "wind_change": circuit.wind_sd_kt * hours,
        "measurement": 0.0,
        "inbound_leg": 0.0,
    }


def _sigmas(lap: Lap, taken: FlownDecisions) -> dict[str, complex]:
    """Return the sigma of each decision, in its own unit: of what was flown and of what it is held against."""
    circuit, motion, ideal = lap.circuit, lap.flown.motion, lap.ideal
    first, second, leg = circuit.outbound_turn, circuit.inbound_turn, circuit.outbound_leg
    assert first and second and leg
    fix_sd_nm, along_sd_nm, tas = (
        lap.flown.fix_sd_nm or 0.0,
        lap.flown.fix_along_sd_nm,
        max(circuit.tas_kt, 1.0),
    )
    along_sd_s, by_length = 3600.0 * along_sd_nm / tas, taken.clock == "length"
    since_sd: dict[Clock, tuple[float, ...]] = {
        "length": (along_sd_nm,),
        "abeam": (along_sd_s, ideal.outbound_timed_sd_s),
        "wings level": (first.end_sd_s, ideal.outbound_time_sd_s),
    }
    # What a heading is held against leans on the wind, and on the course where that was inferred.
    drift_sd = math.hypot(math.degrees(circuit.wind_sd_kt / tas), lap.flown.course_sd_deg or 0.0)
    return {
        "fix_crossing": complex(0.0, fix_sd_nm),
        "arrival_heading": math.hypot(motion.at("heading_sd_deg", first.start_s), drift_sd),
        "outbound_turn_start": math.hypot(first.start_sd_s, along_sd_s),
        "outbound_turn_bank": _rate_sd_dps(first, taken.decisions.outbound_turn_bank),
        "outbound_heading": math.hypot(leg.heading_sd_deg, ideal.outbound_heading_sd_deg),
        "outbound_time": math.hypot(
            second.start_sd_s * (tas / 3600.0 if by_length else 1.0), *since_sd[taken.clock]
        ),
        "inbound_turn_bank": _rate_sd_dps(second, taken.decisions.inbound_turn_bank),
        "rollout_heading": math.hypot(motion.at("heading_sd_deg", second.end_s), drift_sd),
    }


def _moved_by(taken: FlownDecisions, cause: str, sd: complex) -> float:
    if not cmath.isfinite(sd):
        return math.inf
    value = getattr(taken.decisions, cause)
    nudged = replace(taken.decisions, **{cause: value + sd})
    return abs(replace(taken, decisions=nudged).rollout - taken.rollout)


def _rate_sd_dps(turn: Turn, rate_dps: float) -> float:
    """Return the sigma of the turn rate: that of the mean bank, carried over."""
    bank = max(abs(turn.bank_mean_deg), 1.0)
    if not math.isfinite(bank):
        return math.inf
    return rate_dps * math.radians(turn.bank_mean_sd_deg) / math.sin(math.radians(2.0 * bank)) * 2.0
