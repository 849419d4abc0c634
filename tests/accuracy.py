"""Measure how accurate the program is: ``python -m tests.accuracy [--set …] [--seeds N] [--verbose] [--json FILE]``.

Sets of flights with known truth:

main
    40 generated flights: both hands, all entries, 0–35 kt of wind, 85–210 kt, gusts to 3 kt, 1–5 s sampling.
instrument
    60 generated flights, every other one flown with a steady hand in smooth air; the wind's error is held
    against the least that anybody could make (:mod:`tests.accuracy_bound`).
odd
    Twenty hard ones: descents, single circuits, circuits broken off, gales, poles, the date line.
jsbsim
    Flights of real aircraft models by an open flight-dynamics library (:mod:`tests.jsbsim_flights`).
students
    120 weak students (:mod:`tests.flights.students`), each with the right hold given, and without.
lost
    The same in 30 kt of wind and more and one row in ten seconds; two of five lay the drift off to the wrong side.
receivers
    Flights of the main set as untidy receivers, feeds and simulators write them, by kind: clocks that wander, rows
    interpolated between true samples, chords, smoothed speeds, filters that step, repeated or rounded positions,
    drop-outs, holes in legs and turns, lags that slip, pauses, accelerated time. As many flights of the courses' set
    stand beside them, for fix and course alone. Judged by how honest the stated sigmas are; each kind has a table.
courses
    Pilots who track the course, who home on the fix and who turn inbound early (:mod:`tests.flights.course_pilots`),
    the hold not given: how honest the stated sigma of the inbound course is.
false
    Fifty hours of flight that is not holding, in all samplings: every hold found is one too many.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterable
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from tests.accuracy_bound import Bound
from tests.accuracy_compare import Errors
from tests.accuracy_courses import report_courses
from tests.accuracy_students import measure_student, report_students
from tests.accuracy_targets import COVERED_UNTIDY, INSTRUMENT, MAIN, ODD, Target, print_table, rows
from tests.accuracy_work import (
    FALSE_INTERVALS_S,
    Result,
    in_pool,
    measure_case,
    measure_false,
    measure_model,
    measure_untidy,
    measure_untidy_course,
)
from tests.flights.receiver_cases import KINDS, receiver_case, receiver_course_case
from tests.flights.scenarios import instrument_case, main_case, odd_cases
from tests.flights.students import lost_student_case, student_case
from tests.jsbsim_flights.plans import PLANS

FALSE_HOURS = 50.0
#: Flights of the main set, and of the courses', that every kind of untidy receiver watches.
RECEIVER_FLIGHTS = 16
#: Flights of each kind of pilot whose course is to be inferred.
COURSE_FLIGHTS = 48
SETS = ["main", "instrument", "odd", "jsbsim", "students", "lost", "receivers", "courses", "false"]


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
        "rows": [vars(row) for row in rows(total, targets)], "errors": total,
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


def report_receivers(seeds: Iterable[int], count: int, *, verbose: bool) -> dict[str, Any]:
    """Measure every kind of untidy receiver, print a table for each, and return them as data."""
    total, met, kinds = Errors(), True, []
    for kind in KINDS:
        errors = Errors()
        print(f"\n== receivers: {kind}")
        cases = [receiver_case(kind, index, seed) for seed in seeds for index in range(count)]
        courses = [receiver_course_case(kind, index, seed) for seed in seeds for index in range(count)]
        measured = in_pool(measure_untidy, cases), in_pool(measure_untidy_course, courses)
        for name, one, _ in chain(*measured):
            errors.merge(one)
            if verbose and one.remarks:
                print("\n      ".join([f"   {name}", *one.remarks]))
        # Two sigmas hold 95 in a hundred; a share of so few values is judged over all kinds together.
        print_table(errors, (), covered=COVERED_UNTIDY)
        shares = {name: float(np.mean(np.abs(v) <= 2.0)) for name, v in errors.in_sd.items() if v}
        kinds.append({"kind": kind, "counts": dict(errors.counts), "shares": shares})
        total.merge(errors)
    print("\n== receivers: all kinds")
    met = print_table(total, (), covered=COVERED_UNTIDY)
    return {"set": "receivers", "met": met, "kinds": kinds, "errors": total}


def report_false(hours: float) -> dict[str, Any]:
    """Measure false holds and print what was found."""
    print("\n== false: flight that is not holding")
    flown, found, laps = 0.0, [], 0
    models = [("model", number) for number in range(round(hours / 12.0))]
    generated = [("generated", seed) for seed in range(7000, 7000 + int(np.ceil(hours * 0.93 / 0.87)))]
    for lasted, holds, drawn in in_pool(measure_false, models + generated):
        flown += lasted
        found += holds
        laps += drawn
    for line in found:
        print(f"   {line}")
    print(f"   {laps} holds found where free turning truly drew a lap by chance are not counted against it")
    samplings = ", ".join(f"{s:g}" for s in FALSE_INTERVALS_S)
    print(
        f"{flown:.1f} hours, each sampled every {samplings} s: {len(found)} false holds   {_said(not found)}"
    )
    return {"set": "false", "met": not found, "hours": flown, "found": found}


def parser() -> argparse.ArgumentParser:
    """What can be asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--set", action="append", choices=SETS)
    parser.add_argument("--seeds", type=int, default=1, help="how many draws of the generated sets")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--hours", type=float, default=FALSE_HOURS, help="of flight that is not holding")
    parser.add_argument("--students", type=int, default=120, help="how many weak students in each draw")
    parser.add_argument("--verbose", action="store_true", help="say something about every flight")
    parser.add_argument("--json", type=Path, help="also write the figures here")
    return parser


def main(argv: list[str] | None = None) -> int:
    """Run the sets that are asked for."""
    asked = parser().parse_args(argv)
    done, begun = [], time.monotonic()
    seeds = range(asked.first_seed, asked.first_seed + asked.seeds)
    for name in asked.set or SETS:
        done.append(_run(name, seeds, asked, verbose=asked.verbose))
    both = [one.pop("errors") for one in done if one["set"] in ("instrument", "jsbsim")]
    if len(both) == 2:
        print("\n== instrument and jsbsim together")
        both[0].merge(both[1])
        print_table(both[0], INSTRUMENT)
    print(f"\n{time.monotonic() - begun:.0f} s")
    if asked.json:
        told = [{key: value for key, value in one.items() if key != "errors"} for one in done]
        asked.json.write_text(json.dumps(told, indent=1, default=float), encoding="utf-8")
    return 0 if all(one["met"] for one in done) else 1


def _run(name: str, seeds: range, asked: argparse.Namespace, *, verbose: bool) -> dict[str, Any]:
    if name == "false":
        return report_false(asked.hours)
    if name in ("students", "lost"):
        case = student_case if name == "students" else lost_student_case
        drawn = [case(i, s) for s in seeds for i in range(asked.students)]
        return {"set": name, "met": report_students(in_pool(measure_student, drawn), verbose=verbose)}
    if name == "receivers":
        return report_receivers(seeds, RECEIVER_FLIGHTS, verbose=asked.verbose)
    if name == "courses":
        return report_courses(in_pool, seeds, COURSE_FLIGHTS, verbose=verbose)
    if name == "jsbsim":
        return report("jsbsim", in_pool(measure_model, PLANS), INSTRUMENT, verbose=verbose, judge_bound=False)
    cases = {
        "main": [main_case(i, s) for s in seeds for i in range(40)],
        "instrument": [instrument_case(i, s) for s in seeds for i in range(60)],
        "odd": list(odd_cases()),
    }[name]
    targets = {"main": MAIN, "odd": ODD, "instrument": INSTRUMENT}[name]
    return report(
        name, in_pool(measure_case, cases), targets, verbose=verbose, judge_bound=name == "instrument"
    )


if __name__ == "__main__":
    sys.exit(main())
