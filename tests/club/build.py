"""Eight weeks of the imaginary club, session by session, and into a logbook."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Protocol

from analyser.logbook.book import Logbook
from analyser.logbook.documents import logged_holds
from analyser.logbook.marks import item_points
from analyser.logbook.sessions import Given
from analyser.rules.scales import load_scale
from tests.club.people import INSTRUCTOR, PILOTS, Pilot
from tests.club.session import Made, make_session

SEED = 20260105
FIRST_DAY = datetime(2026, 1, 5, 9, 30, tzinfo=UTC)
WEEKS = 8
ITEMS = ("entry", "timing", "bank", "wind_correction", "track", "altitude", "speed")
# The instructor of the story marks the first pilot half a grade kinder than the points.
KINDER = {"Alma Brook": 0.5}


class Maker(Protocol):
    """Makes a session of a pilot at a share (0–1) of the eight weeks."""

    def __call__(
        self, pilot: Pilot, flown: datetime, share: float, number: int, chance: random.Random, /
    ) -> Made: ...


def sessions(seed: int = SEED, make: Maker = make_session) -> Iterator[Made]:
    """All sessions of the club, pilot by pilot."""
    for place, pilot in enumerate(PILOTS):
        yield from _weeks(pilot, random.Random(seed + place), make)


def _weeks(pilot: Pilot, chance: random.Random, make: Maker) -> Iterator[Made]:
    for number in range(pilot.sessions):
        share = number / (pilot.sessions - 1)
        day = FIRST_DAY + timedelta(days=round(share * (WEEKS * 7 - 3)), minutes=chance.randrange(300))
        yield make(pilot, day, share, number, chance)


def fill(
    book: Logbook, seed: int = SEED, make: Maker = make_session, done: Callable[[], object] = int
) -> int:
    """Record every session with the grades that pilot and instructor gave; return how many.

    ``make`` is :func:`~tests.club.session.make_session`, which is quick, or
    :func:`~tests.club.flown.fly_session`; ``done`` is told after each session.
    """
    scale = load_scale("evidence-1-5")
    chance = random.Random(seed)
    count = 0
    for made in sessions(seed, make):
        outcome = book.record(
            made.document,
            pilot=made.pilot.name,
            instructor=INSTRUCTOR,
            device=made.pilot.device,
            trace=made.trace,
        )
        book.grade(
            outcome.session,
            list(_grades(made, chance)),
            scale=scale,
            graded=made.flown + timedelta(hours=2),
        )
        count += 1
        done()
    return count


def filled_club(path: Path) -> Path:
    """Write the club's logbook to a new file; the sessions are made and recorded once a process."""
    path.write_bytes(_whole_club())
    return path


@cache
def _whole_club() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "club.sqlite")
        with Logbook.open(path) as book:
            fill(book)
        return path.read_bytes()


def _grades(made: Made, chance: random.Random) -> Iterator[Given]:
    scale = load_scale("evidence-1-5")
    required = scale.place(scale.required)
    for item, points in item_points(logged_holds(made.document)[0]).items():
        proposed = scale.propose(points)
        if item not in ITEMS or proposed is None:
            continue
        there = scale.place(proposed.key)
        for given_as, lean in (("pilot", 0.0), ("instructor", KINDER.get(made.pilot.name, 0.0))):
            place = max(1, min(5, round(there + lean + chance.gauss(0.0, 0.35))))
            yield Given(
                hold=1,
                item=item,
                given_as="pilot" if given_as == "pilot" else "instructor",
                grader="",
                level=scale.levels[place - 1].key,
                required=scale.required,
                remark="invented: talk this item through" if place < required else "",
            )
