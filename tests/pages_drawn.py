"""Thirty pages of invented flights, neat ones and students' ones, for what must hold of any page."""

from __future__ import annotations

import warnings

from analyser.debrief import debrief_track
from tests.flights.as_track import to_hold, to_track
from tests.flights.cache import remembered
from tests.flights.flight import Flight, make_flight
from tests.flights.receiver import Receiver
from tests.flights.scenarios import main_case
from tests.flights.students import make_student, student_case
from tests.pages_fixture import rendered

PAGES = 30


def drawn_page(index: int) -> str:
    """Debrief the flight of this number, every other one with its hold given, and return its page."""
    flight, receiver = _flight(index)
    given = [to_hold(hold) for hold in flight.holds] if index % 2 else []
    made = debrief_track(to_track(flight, receiver, seed=index, name=f"drawn {index}"), holds=given)
    return rendered(made)


def _flight(index: int) -> tuple[Flight, Receiver]:
    if index % 3 == 2:
        student = student_case(index)
        with warnings.catch_warnings():
            # A circuit without a level leg has no mean heading: the generator's own truth is NaN there.
            warnings.simplefilter("ignore", RuntimeWarning)
            return remembered(f"page student {index}", lambda: make_student(student.plan)).flight, Receiver()
    case = main_case(index)
    return remembered(f"page main {index}", lambda: make_flight(case.plan)), case.receiver
