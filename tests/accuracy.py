"""Measure how accurate the program is: ``python -m tests.accuracy [--set …] [--seeds N] [--verbose] [--json FILE]``.

Sets of flights with known truth:

main
    40 generated flights: both hands, all entries, 0–35 kt of wind, 85–210 kt, gusts to 3 kt, 1–5 s sampling.
instrument
    60 generated flights, every other one flown with a steady hand in smooth air; the wind's error is held
    against the least that anybody could make (:mod:`tests.accuracy_bound`).
odd
    Sixteen hard ones: descents, single circuits, circuits broken off, gales, poles, the date line.
jsbsim
    Flights of real aircraft models by an open flight-dynamics library (:mod:`tests.jsbsim_flights`).
false
    Fifty hours of flight that is not holding, in all samplings: every hold found is one too many.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analyser.circuits.find import find_holds
from tests import accuracy_bound
from tests.accuracy_bound import Bound, bound
from tests.accuracy_compare import Errors, compare
from tests.accuracy_targets import INSTRUMENT, MAIN, Target, print_table, rows
from tests.flights.as_track import seen_track
from tests.flights.cache import remembered
from tests.flights.chance_laps import FREE, chance_laps
from tests.flights.flight import Seen, make_flight, see
from tests.flights.other import make_other
from tests.flights.receiver import Receiver
from tests.flights.scenarios import Case, instrument_case, main_case, odd_cases
from tests.flights.truth import TrueHold
from tests.jsbsim_flights.plans import PLANS, ModelPlan
from tests.jsbsim_flights.watch import watch_model

WORKERS = 2
BOUND_CODE = Path(accuracy_bound.__file__)
FALSE_HOURS = 50.0
FALSE_INTERVALS_S = (0.5, 1.0, 2.0, 5.0, 10.0)

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


def watch_other(seed: int) -> OtherSeen:
    """Fly about without holding, and watch it with every sampling."""
    flight = make_other(seed)
    seen = tuple(see(flight, Receiver(interval_s=s), seed) for s in FALSE_INTERVALS_S)
    hours = float(flight.series["time_s"][-1]) / 3600.0
    return OtherSeen(flight.name, hours, str(flight.facts["diary"]), seen, tuple(chance_laps(flight.series)))


def measure_false(seed: int) -> tuple[float, list[str], int]:
    """Report every hold found in a flight that holds nowhere."""
    other = remembered(f"other {seed} {FALSE_INTERVALS_S}", lambda: watch_other(seed))
    return other.hours, false_holds(other), len(other.chance_laps)


def false_holds(other: OtherSeen) -> list[str]:
    """Describe every hold found where there is none."""
    found = []
    for interval_s, seen in zip(FALSE_INTERVALS_S, other.seen, strict=True):
        for hold in find_holds(seen_track(seen, other.name)):
            doing = _doing(other.diary, hold.start_s, hold.end_s)
            if _by_chance(other, hold.start_s, hold.end_s, doing):
                continue
            spell = f"{hold.start_s:.0f}–{hold.end_s:.0f} s, {len(hold.circuits)} circuits"
            found.append(f"{other.name}, every {interval_s:g} s: {spell}; truly {doing}")
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


def report(
    title: str, results: Iterable[Result], targets: tuple[Target, ...], *, verbose: bool, judge_bound: bool
) -> dict[str, Any]:
    """Gather the results of a set, print its table, and return it as data."""
    total, bounds, flights = Errors(), [], []
    print(f"\n== {title}")
    for name, errors, least in results:
        total.merge(errors)
        if least is not None and errors.values.get("wind"):
            bounds.append((errors.values["wind"][0], least))
        flights.append({"flight": name, "remarks": errors.remarks, "wind_kt": errors.values.get("wind")})
        if verbose:
            wind = errors.values.get("wind", [float("nan")])[0]
            could = f", bound {least.sd_kt:.2f}" if least else ""
            print(f"   {name}: wind off by {wind:.2f} kt{could}")
            for remark in errors.remarks:
                print(f"      {remark}")
    print(f"{len(flights)} flights")
    met = print_table(total, targets)
    if bounds and judge_bound:
        met &= _print_bound(bounds)
    return {
        "set": title, "met": met, "flights": flights, "counts": dict(total.counts),
        "rows": [vars(row) for row in rows(total, targets)],
    }  # fmt: skip


def _print_bound(bounds: list[tuple[float, Bound]]) -> bool:
    """Print the wind's error beside the least possible."""

    def rms(values: Iterable[float]) -> float:
        return float(np.sqrt(np.mean(np.square(list(values)))))

    least = rms(b.sd_kt for _, b in bounds)
    ratio = rms(e for e, _ in bounds) / least
    print(f"\nwind over the hold, rms of the error over the rms of the Cramér–Rao bound ({least:.3f} kt):")
    print(
        f"   this program, from positions alone      {ratio:.3f}   asked: at most 1.1   {_said(ratio <= 1.1)}"
    )
    print(
        f"   plain circle fit, phases known          {rms(b.circle_error_kt for _, b in bounds) / least:.3f}"
    )
    print(
        f"   generalised fit, phases and noise known {rms(b.known_noise_error_kt for _, b in bounds) / least:.3f}"
    )
    return ratio <= 1.1


def _said(met: bool) -> str:
    return "met" if met else "MISSED"


def report_false(hours: float) -> dict[str, Any]:
    """Measure false holds and print what was found."""
    print("\n== false: flight that is not holding")
    flown, found, laps, count = 0.0, [], 0, int(np.ceil(hours / 0.87))
    for lasted, holds, drawn in in_pool(measure_false, range(7000, 7000 + count)):
        flown += lasted
        found += holds
        laps += drawn
    for line in found:
        print(f"   {line}")
    print(f"   {laps} laps that free turning drew by chance are not counted against it")
    samplings = ", ".join(f"{s:g}" for s in FALSE_INTERVALS_S)
    print(
        f"{flown:.1f} hours, each sampled every {samplings} s: {len(found)} false holds   {_said(not found)}"
    )
    return {"set": "false", "met": not found, "hours": flown, "found": found}


def main(argv: list[str] | None = None) -> int:
    """Run the sets that are asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--set", action="append", choices=["main", "instrument", "odd", "jsbsim", "false"])
    parser.add_argument("--seeds", type=int, default=1, help="how many draws of the generated sets")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--hours", type=float, default=FALSE_HOURS, help="of flight that is not holding")
    parser.add_argument("--verbose", action="store_true", help="say something about every flight")
    parser.add_argument("--json", type=Path, help="also write the figures here")
    asked = parser.parse_args(argv)
    done, begun = [], time.monotonic()
    seeds = range(asked.first_seed, asked.first_seed + asked.seeds)
    for name in asked.set or ["main", "instrument", "odd", "jsbsim", "false"]:
        done.append(_run(name, seeds, asked.hours, verbose=asked.verbose))
    print(f"\n{time.monotonic() - begun:.0f} s")
    if asked.json:
        asked.json.write_text(json.dumps(done, indent=1, default=float), encoding="utf-8")
    return 0 if all(one["met"] for one in done) else 1


def _run(name: str, seeds: range, hours: float, *, verbose: bool) -> dict[str, Any]:
    if name == "false":
        return report_false(hours)
    if name == "jsbsim":
        return report("jsbsim", in_pool(measure_model, PLANS), INSTRUMENT, verbose=verbose, judge_bound=False)
    cases = {
        "main": [main_case(i, s) for s in seeds for i in range(40)],
        "instrument": [instrument_case(i, s) for s in seeds for i in range(60)],
        "odd": list(odd_cases()),
    }[name]
    targets = MAIN if name == "main" else INSTRUMENT
    return report(
        name, in_pool(measure_case, cases), targets, verbose=verbose, judge_bound=name == "instrument"
    )


if __name__ == "__main__":
    sys.exit(main())
