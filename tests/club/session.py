"""One invented session: a hold with a few circuits, and the debrief document it would have had.

The documents are made here from the planted faults and not by the program (``flown.py`` does that), so that
what the logbook finds can be compared with what was put in, quickly and with many dice.
The points follow a plain rule of this module: 100 on target, 60 at
the tolerance, none at three times the tolerance.
"""

from __future__ import annotations

import hashlib
import math
import random
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from analyser.holds.definition import Turns
from analyser.logbook.sessions import Trace
from tests.club.path import Flown, fly_circuit, inbound_crab
from tests.club.people import Pilot

TOLERANCE = {
    "timing": 10.0,
    "bank": 5.0,
    "wind_correction": 5.0,
    "track": 5.0,
    "altitude": 100.0,
    "speed": 10.0,
}
TARGET = {
    "timing": 60.0,
    "bank": 17.0,
    "wind_correction": 0.0,
    "track": 0.0,
    "altitude": 4000.0,
    "speed": 0.0,
}
TAS_KT = 105.0
#: A heading in the middle of each sector: degrees from the inbound course, to the side of the turns.
ARRIVALS = {"direct": 0.0, "parallel": -145.0, "offset": 145.0}


@dataclass(frozen=True)
class Place:
    """An invented hold."""

    name: str
    lat: float
    lon: float
    course: float
    turns: Turns


PLACES = (
    Place("Mill Reach", 47.21, 8.43, 263.0, "right"),
    Place("Stone Ferry", 47.55, 8.02, 84.0, "left"),
)


@dataclass(frozen=True)
class Made:
    """A session as it goes into the logbook."""

    pilot: Pilot
    flown: datetime
    document: dict[str, Any]
    trace: Trace


def make_session(
    pilot: Pilot,
    flown: datetime,
    share: float,
    number: int,
    chance: random.Random,
    *,
    wind_kt: float | None = None,
    form: Mapping[str, float] | None = None,
    drawn: bool = True,
) -> Made:
    """Make a session at ``share`` (0–1) of the weeks.

    ``form`` is the day's, by item and in tolerances, by default the same in all; without ``drawn`` there is no path,
    which is quick.
    """
    place = PLACES[number % len(PLACES)]
    if wind_kt is None:
        wind_kt = wind_of(pilot, share, chance)
    wind_from = chance.uniform(0.0, 360.0)
    wind = (-wind_kt * math.sin(math.radians(wind_from)), -wind_kt * math.cos(math.radians(wind_from)))
    day = dict.fromkeys(TOLERANCE, _day_form(chance)) if form is None else form
    circuits, trace = _circuits(pilot, place, wind, share, chance, day, drawn=drawn)
    hold = _hold(place, wind_from, wind_kt, wind, circuits, _entry(pilot, place, chance))
    document = {"schema": 1, "log": _log(pilot, flown, number, circuits[-1]["end_s"]), "holds": [hold]}
    return Made(pilot, flown, document, Trace([trace] if drawn else []))


def wind_of(pilot: Pilot, share: float, chance: random.Random) -> float:
    """How strong the wind is when a pilot flies at ``share`` of the eight weeks, knots."""
    first, last = pilot.wind_kt
    return max(0.0, first + share * (last - first) + chance.uniform(-4.0, 4.0))


def _day_form(chance: random.Random) -> float:
    """Good days and bad days: what all circuits of a session share, in tolerances."""
    return chance.gauss(0.0, 0.15)


def _circuits(
    pilot: Pilot,
    place: Place,
    wind: tuple[float, float],
    share: float,
    chance: random.Random,
    day: Mapping[str, float],
    *,
    drawn: bool,
) -> tuple[list[dict[str, Any]], list[list[float]]]:
    side = 1 if place.turns == "right" else -1
    at = (0.0, 0.0, place.course, 30.0)
    made: list[dict[str, Any]] = []
    trace: list[list[float]] = []
    for lap in range(1, chance.choice((3, 4, 4, 5)) + 1):
        off = {item: _error(pilot, item, wind, share, chance, day[item]) for item in TOLERANCE}
        if not drawn:
            begin = at[3]
            instants = (begin, begin + 60.0, begin + 120.0, begin + 180.0, begin + 240.0)
            made.append(_circuit(lap, Flown(instants, [], place.course), off, wind))
            at = (0.0, 0.0, place.course, instants[-1])
            continue
        crab = inbound_crab(place.course, TAS_KT, wind)
        flown = fly_circuit(
            start=at,
            course=place.course,
            side=side,
            tas_kt=TAS_KT,
            wind=wind,
            outbound_heading=place.course + 180.0 - 2.6 * crab + off["wind_correction"],
            outbound_s=max(20.0, 60.0 + off["timing"]),
            rate_dps=max(1.5, 3.0 * (1.0 + off["bank"] / 17.0)),
        )
        made.append(_circuit(lap, flown, off, wind))
        trace += flown.trace
        at = (trace[-1][1], trace[-1][2], flown.inbound_heading, flown.instants[-1])
    return made, trace


def _error(
    pilot: Pilot, item: str, wind: tuple[float, float], share: float, chance: random.Random, day: float
) -> float:
    habit = pilot.habit(item)
    strength = math.hypot(*wind) / TAS_KT / 0.2
    size = habit.bias * (1.0 - habit.learned * share) + habit.by_wind * strength + day
    return TOLERANCE[item] * (size + chance.gauss(0.0, habit.wander)) * chance.choice((-1, 1, 1, 1))


def points(error: float, tolerance: float) -> float:
    """The module's plain rule."""
    parts = abs(error) / tolerance
    return round(max(0.0, 100.0 - 40.0 * parts if parts <= 1 else 60.0 - 30.0 * (parts - 1.0)), 1)


def _circuit(lap: int, flown: Flown, off: dict[str, float], wind: tuple[float, float]) -> dict[str, Any]:
    a, b, c, d, e = flown.instants
    scores = {
        item: {
            "points": points(off[item], tolerance),
            "value": round(TARGET[item] + off[item], 2),
            "target": TARGET[item],
            "tolerance": tolerance,
            "verdict": "within" if abs(off[item]) <= tolerance else "outside",
        }
        for item, tolerance in TOLERANCE.items()
    }
    bank = round(17.0 + off["bank"], 1)
    turn = {"bank_mean": bank, "bank_max": bank + 3.0, "rate_mean": 3.0}
    return {
        "number": lap,
        "start_s": a,
        "end_s": e,
        "complete": True,
        "outbound_turn": {"start_s": a, "end_s": b, **turn},
        "outbound_leg": {
            "start_s": b,
            "end_s": c,
            "abeam_s": b,
            "timed_s": c - b,
            "heading_true": 0.0,
            "track_true": 0.0,
            "ideal_heading_true": 0.0,
            "ideal_timed_s": 60.0,
        },
        "inbound_turn": {"start_s": c, "end_s": d, **turn, "rollout_cross_track_nm": 0.1},
        "inbound_leg": {
            "start_s": d,
            "end_s": e,
            "duration_s": e - d,
            "ideal_duration_s": 60.0,
            "cross_track_rms_nm": 0.05,
            "cross_track_max_nm": 0.1,
            "heading_true": flown.inbound_heading,
        },
        "fix_miss_nm": 0.05,
        "altitude_error_max_ft": round(off["altitude"], 1),
        "speed_error_max_kt": round(off["speed"], 1),
        "wind": {"east_kt": wind[0], "north_kt": wind[1], "sd_kt": 0.8},
        "error_budget": [],
        "scores": scores,
        "points": round(sum(one["points"] for one in scores.values()) / len(scores), 1),
    }


def _entry(pilot: Pilot, place: Place, chance: random.Random) -> dict[str, Any]:
    allowed = chance.choice(("direct", "parallel", "offset"))
    arrival = ARRIVALS[allowed]
    side = 1 if place.turns == "right" else -1
    wrong = chance.random() < pilot.wrong_entries
    return {
        "fix_s": 30.0,
        "arrival_heading_true": (place.course + side * arrival) % 360.0,
        "sectors_allowed": [allowed],
        "flown": ("direct" if allowed != "direct" else "parallel") if wrong else allowed,
        "verdict": "incorrect" if wrong else "correct",
    }


def _hold(
    place: Place,
    wind_from: float,
    wind_kt: float,
    wind: tuple[float, float],
    circuits: list[dict[str, Any]],
    entry: dict[str, Any],
) -> dict[str, Any]:
    return {
        "definition": "inferred",
        "name": place.name,
        "fix": {"lat": place.lat, "lon": place.lon, "sd_nm": 0.05},
        "inbound_course_true": place.course,
        "inbound_course_magnetic": (place.course - 3.0) % 360.0,
        "variation": 3.0,
        "turns": place.turns,
        "leg": {"minutes": 1.0},
        "rules": "icao",
        "start_s": 30.0,
        "end_s": circuits[-1]["end_s"],
        "wind": {
            "from_true": wind_from,
            "speed_kt": wind_kt,
            "east_kt": wind[0],
            "north_kt": wind[1],
            "sd_kt": 0.6,
            "source": "turns",
        },
        "tas_kt": TAS_KT,
        "tas_sd_kt": 0.7,
        "altitude_ft": 4000.0,
        "entry": entry,
        "circuits": circuits,
        "points": round(sum(one["points"] for one in circuits) / len(circuits), 1),
        "grade": "adequate",
    }


def log_stem(pilot: Pilot, flown: datetime, number: int) -> str:
    """The name of a session's log."""
    return f"{pilot.name.split()[0].lower()}_{flown:%Y%m%d}_{number:02d}"


def _log(pilot: Pilot, flown: datetime, number: int, end_s: float) -> dict[str, Any]:
    stem = log_stem(pilot, flown, number)
    return {
        "name": f"{stem}.gpx",
        "format": "gpx",
        "sha256": hashlib.sha256(stem.encode()).hexdigest(),
        "samples": int(end_s),
        "duration_s": end_s,
        "interval_s": 1.0,
        "start_utc": flown.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "channels": ["position", "altitude"],
        "notices": [],
    }
