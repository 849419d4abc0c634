"""What the program makes of planted faults, beside what an examiner does: ``python -m tests.examiner``."""

from __future__ import annotations

import sys
from dataclasses import dataclass

from analyser.debrief import debrief_track
from analyser.grading.judged import JudgedHold
from tests.flights.cache import HERE, remembered
from tests.planted.fly import Flown, flown
from tests.planted.single_laps import PLANTED
from tests.planted.table import Planted

#: Points for a flight with nothing planted, and at most by the worst severity: the caps as the trade has them.
LEAST_PERFECT = 95.0
MOST = {"unsafe": 59.0, "below standard": 79.0, "improve": 89.0, "remark": 95.0, "good": 100.0}
GRADES = {"unsafe": (1, 1), "below standard": (1, 2), "improve": (3, 4), "remark": (4, 5), "good": (4, 5)}
#: What is recommended and not asked for (FAA AIM 5-3-8 j.3) is remarked on, and fails nobody.
FOUND_AS = {"remark": "improve"}


@dataclass(frozen=True)
class Examined:
    """One row of the table as the program has it."""

    planted: Planted
    judged: JudgedHold | None

    @property
    def wrong(self) -> list[str]:
        """What an examiner would not sign."""
        judged, planted = self.judged, self.planted
        if judged is None or judged.points is None or judged.grade is None:
            return ["not judged"]
        found = []
        first = judged.findings[0]
        # Advice within every tolerance is no fault found.
        minor = planted.severity == "good" and first.severity == "improve" and not first.outside
        severity = "good" if minor else first.severity
        expected = FOUND_AS.get(planted.severity, planted.severity)
        if severity != expected:
            found.append(f"{first.severity} ({first.kind}), expected {expected}")
        if planted.severity != "good" and first.kind not in planted.first:
            found.append(f"first {first.kind}, expected {' or '.join(planted.first)}")
        if planted.severity != "good" and judged.verdict[0] != first.sentence and first.severity != "improve":
            found.append("the worst is not said first")
        if judged.points >= MOST[planted.severity] + 0.5:
            found.append(f"{judged.points:.0f} points")
        if not GRADES[planted.severity][0] <= judged.grade.grade <= GRADES[planted.severity][1]:
            found.append(f"grade {judged.grade.grade}")
        if planted.severity == "good" and judged.points < LEAST_PERFECT:
            found.append(f"{judged.points:.0f} points for nothing")
        work = judged.work_on_first
        # That the holding area was left is mended by what led out of it.
        mends = work is not None and first.kind in (work.kind, "holding area")
        if planted.severity in ("unsafe", "below standard") and not mends:
            found.append(f"work on first: {work.kind if work else 'nothing'}")
        return found


def fly(planted: Planted) -> Flown:
    """Fly a row, or take it from where it was kept."""
    folder = HERE.parent / "planted"
    also = [folder / "fly.py", folder / "fault.py"]
    return remembered(
        f"planted {planted.scene} {planted.fault}", lambda: flown(planted.scene, planted.fault), also
    )


def examine(planted: Planted) -> Examined:
    """Fly a row and debrief it."""
    one = fly(planted)
    hold = one.hold if planted.scene.hold_file else None
    scene = one.scene
    holds = debrief_track(one.track, hold=hold, rules=scene.rules, turbulence=scene.turbulence).holds
    return Examined(planted, holds[0].judged if len(holds) == 1 else None)


def main() -> int:
    """Print the table; return how many rows an examiner would not sign."""
    bad = 0
    print("| planted | rules, hand | points / grade | said first | an examiner would |")
    print("|---|---|---|---|---|")
    for planted in PLANTED:
        one = examine(planted)
        judged = one.judged
        hand = "right" if planted.scene.side > 0 else "left"
        marks = "–" if judged is None or judged.points is None else f"{judged.points:.0f} / "
        marks += str(judged.grade.grade) if judged and judged.grade else "–"
        said = judged.verdict[0] if judged else "no hold found"
        wrong = "; ".join(one.wrong)
        bad += bool(wrong)
        sign = f"not sign: {wrong}" if wrong else "sign"
        print(f"| {planted.name} | {planted.scene.rules}, {hand} | {marks} | {said} | {sign} |")
    rows = len(PLANTED)
    print(f"\n{rows - bad} of {rows} as an examiner would.")
    return bad


if __name__ == "__main__":
    sys.exit(min(main(), 1))
