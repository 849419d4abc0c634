"""One session of the imaginary club, really flown: by the flight generator, and read from its log by the program.

A pilot's weakness is planted in the generator's pilot: how the drift is corrected, how the clock is minded, how
steady the height is held. What the logbook gets is what the program makes of the recorded positions.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from analyser.debrief import debrief_track
from analyser.document import document
from analyser.holds.definition import Hold, LegLimit
from analyser.logbook.trace import trace_of
from analyser.logs.read import read_log
from tests.club.people import Pilot
from tests.club.session import ARRIVALS, PLACES, TAS_KT, Made, Place, log_stem, make_session, wind_of
from tests.flights.air import Air
from tests.flights.aircraft import Hand
from tests.flights.flight import make_flight, see
from tests.flights.hold_plan import FlightPlan, Habits, HoldPlan, Kind
from tests.flights.receiver import Receiver
from tests.flights.write import write_gpx

NOTE = "Invented flight of an imaginary club. Not for navigation."
ALTITUDE_FT = 4000.0
FLOWN_EVERY = 4
_STEADY = Hand(tas_wander_kt=1.5, altitude_wander_ft=25.0)
_HANDS: Mapping[str, Hand] = {"altitude": replace(_STEADY, altitude_wander_ft=90.0)}
_HABITS: Mapping[str, Habits] = {
    "wind_correction": Habits(heading_error_deg=11.0),
    "timing": Habits(timing_error_s=22.0),
}
_KINDS: tuple[Kind, ...] = ("direct", "parallel", "offset")


def fly_some(pilot: Pilot, flown: datetime, share: float, number: int, chance: random.Random) -> Made:
    """Fly every fourth session of a pilot; flying all takes minutes, so the others are written as documents."""
    make = fly_session if number % FLOWN_EVERY == 0 else make_session
    return make(pilot, flown, share, number, chance)


def fly_session(pilot: Pilot, flown: datetime, share: float, number: int, chance: random.Random) -> Made:
    """Fly a session at ``share`` (0–1) of the eight weeks, and debrief its log."""
    place, wind_kt = PLACES[number % len(PLACES)], wind_of(pilot, share, chance)
    plan = _plan(pilot, place, wind_kt, chance)
    seen = see(make_flight(plan), Receiver(), plan.seed)
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / f"{log_stem(pilot, flown, number)}.gpx"
        write_gpx(log, seen, flown, NOTE)
        debrief = debrief_track(read_log(log)[0], hold=_hold(place))
    return Made(pilot, flown, document(debrief), trace_of(debrief))


def _plan(pilot: Pilot, place: Place, wind_kt: float, chance: random.Random) -> FlightPlan:
    kind, side = chance.choice(_KINDS), 1 if place.turns == "right" else -1
    # An entry that the sector does not allow is flown from a heading that asks for another one.
    asked = chance.choice([one for one in _KINDS if one != kind]) if _slips(pilot, chance) else kind
    hold = HoldPlan(
        course_deg=place.course,
        side=side,
        circuits=chance.choice((3, 4)),
        entry=kind,
        arrival_heading_deg=(place.course + side * ARRIVALS[asked]) % 360.0,
        arrival_nm=3.0,
        habits=_HABITS.get(pilot.weakness, Habits()),
    )
    return FlightPlan(
        seed=chance.randrange(1 << 30),
        lat_deg=place.lat,
        lon_deg=place.lon,
        tas_kt=TAS_KT,
        altitude_ft=ALTITUDE_FT,
        air=Air(chance.uniform(0.0, 360.0), wind_kt, ALTITUDE_FT, gust_kt=0.5),
        hand=_HANDS.get(pilot.weakness, _STEADY),
        holds=(hold,),
    )


def _slips(pilot: Pilot, chance: random.Random) -> bool:
    return chance.random() < pilot.wrong_entries


def _hold(place: Place) -> Hold:
    leg = LegLimit(minutes=1.0)
    # The club's practice sheet gives course, height and variation, as a chart would.
    return Hold(
        place.lat, place.lon, place.course, place.turns, leg, place.name, ALTITUDE_FT, variation_deg=3.0
    )
