"""Whether what is said is true: ``python -m tests.statements [flights] [--first number] [--no-hold-file]``.

Invented flights with every kind of planted fault; every number, side and word of every finding against the generator's
truth, and every page's statements against one another. Without the hold file fix, course, levels and legs are inferred.
A flight follows from its number: with another first number, flights that nobody has looked at.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter

from analyser.debrief import debrief_track
from analyser.document import document
from tests.flights.cache import HERE, remembered
from tests.planted.checks import Check, Told, checks
from tests.planted.draw import drawn
from tests.planted.fly import Flown, flown

FLIGHTS = 300
#: Share of statements that may be false; none of them in a first sentence.
MOST_FALSE = 0.003


def fly(number: int) -> Flown:
    """Fly one drawn flight, or take it from where it was kept."""
    folder = HERE.parent / "planted"
    also = [folder / name for name in ("fly.py", "fault.py", "draw.py")]
    return remembered(f"statements {number}", lambda: flown(*drawn(number)), also)


def examined(number: int, *, hold_file: bool = True) -> list[Check]:
    """Check everything that is said of one drawn flight.

    Parameters
    ----------
    hold_file : bool
        Whether the file that the pilot flew by is given.

    Returns
    -------
    list of Check
        A flight whose given hold is not found is one false statement; without a file it may be refused for a reason.
    """
    one = fly(number)
    debrief = debrief_track(one.track, hold=one.hold if hold_file else None, rules=one.scene.rules)
    if not hold_file and not debrief.holds:
        said = [*debrief.reasons, *debrief.possible]
        return [Check("a hold refused for a reason", len(said), "a reason", good=bool(said))]
    if len(debrief.holds) != 1:
        return [Check("the hold is found", len(debrief.holds), 1, good=False)]
    written = document(debrief)["holds"][0]
    return list(checks(Told(one, debrief.holds[0], written)))


def main() -> int:
    """Print what was false; return 1 where that is too much."""
    words = argparse.ArgumentParser(prog="python -m tests.statements")
    words.add_argument("flights", type=int, nargs="?", default=FLIGHTS)
    words.add_argument("--first", type=int, default=0, help="number of the first flight")
    words.add_argument("--no-hold-file", action="store_true", help="infer fix, course, levels and legs")
    asked = words.parse_args()
    total, false, first, with_false = 0, Counter[str](), 0, 0
    for number in range(asked.first, asked.first + asked.flights):
        found = examined(number, hold_file=not asked.no_hold_file)
        wrong = [check for check in found if not check.good]
        total += len(found)
        with_false += bool(wrong)
        for check in wrong:
            false[check.what] += 1
            first += check.first
            where = " FIRST" if check.first else ""
            print(f"flight {number}{where}: {check.what}: said {check.said}, true {check.true}")
    share = sum(false.values()) / max(total, 1)
    print(
        f"\n{total} statements of {asked.flights} flights: {sum(false.values())} false ({100 * share:.2f} %), ",
        end="",
    )
    print(f"{first} in a first sentence, {with_false} flights with one.")
    for what, count in false.most_common():
        print(f"  {count:4d} {what}")
    return int(share > MOST_FALSE or first > 0)


if __name__ == "__main__":
    sys.exit(main())
