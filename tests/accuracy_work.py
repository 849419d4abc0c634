"""Making the flights of the accuracy sets, letting a receiver watch them, and measuring the program on them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser.circuits.find import find_holds
from tests import accuracy_bound
from tests.accuracy_bound import Bound, bound
from tests.accuracy_compare import Errors, compare, compare_place
from tests.accuracy_students import watch_student
from tests.flights.as_track import cleaned_tracks, seen_track
from tests.flights.cache import remembered
from tests.flights.chance_laps import FREE, chance_laps
from tests.flights.flight import Flight, Seen, make_flight, see
from tests.flights.other import make_other
from tests.flights.other_moves import MOVES
from tests.flights.receiver import Receiver
from tests.flights.scenarios import Case
from tests.flights.students import StudentCase
from tests.flights.truth import TrueHold
from tests.jsbsim_flights.others import model_other
from tests.jsbsim_flights.plans import ModelPlan
from tests.jsbsim_flights.watch import watch_model

WORKERS = 2
FALSE_INTERVALS_S = (0.5, 1.0, 2.0, 5.0, 10.0)
HERE = Path(__file__).resolve()
MODELS = HERE.parent / "jsbsim_flights"
BOUND_CODE = Path(accuracy_bound.__file__).resolve()

Result = tuple[str, Errors, Bound | None]


def sampling_group(interval_s: float) -> str:
    """Name the group of sampling intervals that an interval is judged with."""
    return "1–2 s" if interval_s <= 2.5 else "5 s"


@dataclass(frozen=True)
class Watched:
    """A flight as a receiver saw it, and the truth about it: all that is needed to measure the program."""

    name: str
    seen: Seen
    holds: tuple[TrueHold, ...]
    interval_s: float
    steady: bool
    bound: Bound | None = None


def measure_watched(watched: Watched) -> Errors:
    """Compare what the program makes of a flight with the truth."""
    return compare(
        seen_track(watched.seen, watched.name),
        watched.holds,
        offset_s=float(watched.seen.time_s[0]),
        sampling=sampling_group(watched.interval_s),
        steady=watched.steady,
    )


def watch_case(case: Case) -> Watched:
    """Make a generated flight, let its receiver watch it, and compute the bound on its wind."""
    flight = make_flight(case.plan)
    seen, hold = see(flight, case.receiver, case.plan.seed), case.plan.holds[0]
    name = (
        f"{flight.name}: {hold.entry}, {'right' if hold.side > 0 else 'left'}, {case.plan.tas_kt:.0f} kt, wind "
        f"{case.plan.air.speed_kt:.0f} kt, {hold.habits.drift}, every {case.receiver.interval_s:g} s"
    )
    least = bound(flight, flight.holds[0])
    return Watched(name, seen, flight.holds, case.receiver.interval_s, case.steady, least)


def measure_case(case: Case) -> Result:
    """Make a generated flight, or remember it, and measure it."""
    watched = remembered(f"case {case!r}", lambda: watch_case(case), (BOUND_CODE,))
    return watched.name, measure_watched(watched), watched.bound


def measure_untidy(case: Case) -> Result:
    """Make a flight as an untidy receiver wrote it, clean it as a log is cleaned, and measure the program on it."""
    watched = remembered(f"case {case!r}", lambda: watch_case(case), (BOUND_CODE,))
    cleaned = cleaned_tracks(watched.seen, watched.name)
    errors = compare(
        max(cleaned, key=lambda track: track.samples),
        watched.holds,
        offset_s=float(watched.seen.time_s[0]),
        sampling=sampling_group(watched.interval_s),
        steady=watched.steady,
    )
    errors.counts["flights torn out of one"] += len(cleaned) - 1
    return watched.name, errors, None


def measure_untidy_course(case: StudentCase) -> Result:
    """Measure how well fix and course that nobody gave are known of a pilot whom an untidy receiver watched."""
    watched, errors = watch_student(case), Errors()
    track = max(cleaned_tracks(watched.seen, case.plan.name), key=lambda one: one.samples)
    compare_place(errors, track, watched.flown.hold, offset_s=float(watched.seen.time_s[0]))
    return case.plan.name, errors, None


def measure_model(plan: ModelPlan) -> Result:
    """Fly a plan with the flight-dynamics library, or remember it, and measure it."""
    flown = watch_model(plan)
    watched = Watched(plan.name, flown.seen, flown.holds, plan.interval_s, plan.steady)
    return watched.name, measure_watched(watched), None


@dataclass(frozen=True)
class OtherSeen:
    """A flight that holds nowhere, as seen with each sampling."""

    name: str
    hours: float
    diary: str
    seen: tuple[Seen, ...]
    chance_laps: tuple[tuple[float, float], ...]


def watch_other(seed: int, only: str = "", hours: float = 0.75) -> OtherSeen:
    """Fly about without holding, or one kind of flying only, and watch it with every sampling; or remember it."""

    def make() -> OtherSeen:
        kinds = tuple(move for move in MOVES if move.__name__ == only)
        return _other_seen(make_other(seed, kinds, hours=hours), seed)

    return remembered(f"other {seed} {only} {hours} {FALSE_INTERVALS_S}", make)


def watch_model_about(number: int) -> OtherSeen:
    """Fly one of the library's aircraft about without holding; or remember it."""

    def make() -> OtherSeen:
        return _other_seen(model_other(number, 0.8), number)

    return remembered(f"about {number} {FALSE_INTERVALS_S}", make, (MODELS,))


def _other_seen(flight: Flight, seed: int) -> OtherSeen:
    seen = tuple(see(flight, Receiver(interval_s=s), seed) for s in FALSE_INTERVALS_S)
    hours = float(flight.series["time_s"][-1]) / 3600.0
    return OtherSeen(flight.name, hours, str(flight.facts["diary"]), seen, tuple(chance_laps(flight.series)))


def measure_false(task: tuple[str, int]) -> tuple[float, list[str], int]:
    """Return hours flown, every hold found where there is none, and how many more were laps by chance."""
    other = watch_model_about(task[1]) if task[0] == "model" else watch_other(task[1])
    excused: list[str] = []
    return other.hours, false_holds(other, excused), len(excused)


def false_holds(other: OtherSeen, excused: list[str] | None = None) -> list[str]:
    """Describe every hold found where there is none; laps by chance go to ``excused``."""
    found = []
    for interval_s, seen in zip(FALSE_INTERVALS_S, other.seen, strict=True):
        for hold in find_holds(seen_track(seen, other.name)):
            doing = _doing(other.diary, hold.start_s, hold.end_s)
            spell = f"{hold.start_s:.0f}–{hold.end_s:.0f} s, {len(hold.circuits)} circuits"
            said = f"{other.name}, every {interval_s:g} s: {spell}; truly {doing}"
            if not _by_chance(other, hold.start_s, hold.end_s, doing):
                found.append(said)
            elif excused is not None:
                excused.append(said)
    return found


def _by_chance(other: OtherSeen, start_s: float, end_s: float, doing: str) -> bool:
    """Say whether the free turning there truly drew a lap."""
    free = all(any(word == kind for kind in FREE) for word in doing.split(", "))
    return free and any(start_s < end and begun < end_s for begun, end in other.chance_laps)


def _doing(diary: str, start_s: float, end_s: float) -> str:
    """Say what the diary has between two times."""
    notes = [(float(n.split(" ", 1)[0]), n.split(" ", 1)[1]) for n in diary.split("; ")]
    before = [what for at, what in notes if at <= start_s][-1:]
    return ", ".join(before + [what for at, what in notes if start_s < at < end_s])


def in_pool(work: Callable[[Any], Any], tasks: Iterable[Any]) -> Iterable[Any]:
    """Map over two processes, one thread of linear algebra in each."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    with ProcessPoolExecutor(WORKERS) as pool:
        yield from pool.map(work, tasks)
