"""How well inbound course and fix of no given hold are known, by kind of pilot (:mod:`tests.flights.course_pilots`).

Judged is how honest the stated sigmas are; how large the errors are lies with the pilot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analyser.circuits.find import find_holds
from analyser.earth.plane import LocalPlane
from tests.accuracy_compare import fold, found_of
from tests.accuracy_students import watch_student
from tests.accuracy_targets import is_honest, said_share
from tests.flights.as_track import seen_track
from tests.flights.course_pilots import PILOT_KINDS, PilotKind, course_case

#: Share of true courses within two stated sigmas that is asked, of every kind, and how far beyond none may lie.
ASKED, HONEST_TO, FARTHEST_SD = 0.92, 0.98, 5.0

CourseTask = tuple[PilotKind, int, int]


@dataclass(frozen=True)
class CourseFound:
    """One flight: the course's error (found less true) and stated sigma; None where no hold was found.

    The fix's errors towards east and north in its stated sigma; and whether it was said that the other end of the
    racetrack may be the fix.
    """

    kind: PilotKind
    name: str
    error_deg: float | None
    sd_deg: float | None
    open_end: bool = False
    fix_in_sd: tuple[float, ...] = ()


def measure_course(task: CourseTask) -> CourseFound:
    """Measure the program on one flight, by kind of pilot, index and seed."""
    case = course_case(*task)
    watched = watch_student(case)
    truth, offset_s = watched.flown.hold, float(watched.seen.time_s[0])
    plan = case.plan
    name = (
        f"{plan.name}: {plan.entry}, {plan.circuits} circuits, {plan.tas_kt:.0f} kt, wind {plan.air.speed_kt:.0f} kt × "
        f"{plan.drift_multiple:.1f}, {plan.leg_s:.0f} s, every {case.receiver.interval_s:g} s"
    )
    found = found_of(truth, find_holds(seen_track(watched.seen, plan.name)), offset_s)
    if found is None:
        return CourseFound(task[0], name, None, None)
    error = fold(found.hold.inbound_course_true_deg - truth.course_deg)
    plane = LocalPlane(truth.fix_lat_deg, truth.fix_lon_deg)
    east, north, _ = plane.to_plane(np.array([found.hold.fix_lat_deg]), np.array([found.hold.fix_lon_deg]))
    fix = tuple(abs(float(one[0])) / (found.fix_sd_nm or 1e-9) for one in (east, north))
    return CourseFound(task[0], name, error, found.course_sd_deg, found.other_end is not None, fix)


def report_courses(
    pool: Callable[[Callable[[Any], Any], Iterable[Any]], Iterable[CourseFound]],
    seeds: Sequence[int],
    count: int,
    *,
    verbose: bool,
) -> dict[str, Any]:
    """Measure every kind of pilot, print a line for each, and return them as data."""
    tasks = [(kind, index, seed) for kind in PILOT_KINDS for seed in seeds for index in range(count)]
    all_found = list(pool(measure_course, tasks))
    print("\n== courses: the inbound course, no hold given, by kind of pilot")
    print(
        f"{'error against truth':24} {'flights':>7} {'found':>6} {'median':>7} {'95 %':>7} {'sd':>6} {'in 2 sd':>8}"
        f" {'farthest':>23}"
    )
    kinds, met = [], True
    for kind in PILOT_KINDS:
        mine = [one for one in all_found if one.kind == kind]
        errors = np.array([one.error_deg for one in mine if one.error_deg is not None])
        sds = np.array([one.sd_deg for one in mine if one.sd_deg is not None])
        line = _line(kind, len(mine), errors, sds)
        kinds.append(line)
        print(
            f"{kind:24} {len(mine):7} {errors.size:6} {line['median_deg']:6.1f}° {line['most_deg']:6.1f}° "
            f"{line['sd_deg']:5.1f}° {said_share(line['inside'], errors.size):22} {line['farthest_sd']:6.1f} sd   "
            f"{'met' if line['met'] else 'MISSED'}"
        )
        for one in mine:
            if one.error_deg is None or one.sd_deg is None:
                print(f"      not found: {one.name}")
            elif verbose or abs(one.error_deg) > 3.0 * one.sd_deg:
                print(f"      {one.error_deg:+.1f}° (sd {one.sd_deg:.1f}°): {one.name}")
    print(f"\n{'the fix, each axis':32} {'in 2 sd':>24} {'95 %':>8}")
    for kind in PILOT_KINDS:
        off = np.array([axis for one in all_found if one.kind == kind for axis in one.fix_in_sd])
        inside = int(np.sum(off <= 2.0))
        fine = is_honest(inside, off.size, (ASKED, 1.0))
        met &= fine
        most_sd = float(np.percentile(off, 95))
        print(
            f"{kind:32} {said_share(inside, off.size):>24} {most_sd:5.1f} sd   {'met' if fine else 'MISSED'}"
        )
    open_ends = sum(one.open_end for one in all_found)
    wrong = [one for one in all_found if one.error_deg is not None and abs(one.error_deg) > 90.0]
    sure = sum(not one.open_end for one in wrong)
    print(
        f"which end is the fix: left open in {open_ends}, wrong in {len(wrong)}, {sure} of them stated surely"
    )
    print(f"asked: {100 * ASKED:.0f}–{100 * HONEST_TO:.0f} % of who track, at least {100 * ASKED:.0f} % of the others, "
          f"none beyond {FARTHEST_SD:g} sd")  # fmt: skip
    met &= all(line["met"] for line in kinds) and not sure
    return {"set": "courses", "met": met, "kinds": kinds, "open_ends": open_ends, "wrong_ends": len(wrong)}


def _line(kind: PilotKind, flights: int, errors_deg: np.ndarray, sds_deg: np.ndarray) -> dict[str, Any]:
    away = np.abs(errors_deg) / sds_deg
    inside, farthest = int(np.sum(away <= 2.0)), float(away.max())
    # Whoever tracks is known well, and is not to be doubted so that the others be honest.
    most = HONEST_TO if kind == PILOT_KINDS[0] else 1.0
    return {
        "kind": kind, "flights": flights, "found": int(errors_deg.size), "inside": inside, "farthest_sd": farthest,
        "median_deg": float(np.median(np.abs(errors_deg))), "sd_deg": float(np.median(sds_deg)),
        "most_deg": float(np.percentile(np.abs(errors_deg), 95)),
        "met": is_honest(inside, int(errors_deg.size), (ASKED, most)) and farthest <= FARTHEST_SD,
    }  # fmt: skip
