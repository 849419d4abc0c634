"""The next exercise, made to measure: a hold that the pilot knows, in a wind that trains the weakest item."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Any

from analyser.earth.angles import whole_direction, wrap360
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.holds.briefing import Briefing, flight_of, make_briefing
from analyser.holds.definition import Hold, LegLimit
from analyser.holds.entries import EntryName, sectors
from analyser.holds.holdfile_words import hold_file_text
from analyser.logbook.documents import LoggedHold
from analyser.rules.load import load_regime
from analyser.rules.toml_data import RuleTable, load


class Plan(RuleTable):
    """What trains one item.

    ``wind_off_course_deg`` is where the wind comes from, off the inbound course, positive on the holding side;
    ``wind_share`` is of the true airspeed.
    """

    item: str
    title: str
    why: str
    wind_off_course_deg: float
    wind_share: float
    entry: EntryName
    circuits: int
    drill: str
    aim: str


class _Plans(RuleTable):
    harder_by_share: float
    exercises: tuple[Plan, ...]


@dataclass(frozen=True)
class Exercise:
    """An exercise with its numbers.

    The wind is in whole five degrees and whole knots, as an instructor would set it; the arrival heading lies in the
    middle of the entry's sector, to five degrees; ``briefing`` is None where this wind leaves no circuit.
    """

    plan: Plan
    hold: Hold
    rules: str
    wind_from_true_deg: float
    wind_speed_kt: float
    arrival_heading_true_deg: float
    briefing: Briefing | None

    def hold_file(self) -> str:
        """Write the hold as a hold file: TOML, true directions."""
        hold, leg = self.hold, self.hold.leg
        said: dict[str, Any] = {
            "fix": {"lat": round(hold.fix_lat_deg, 5), "lon": round(hold.fix_lon_deg, 5)},
            "inbound_course": round(hold.inbound_course_true_deg, 1),
            "reference": "true",
            "turns": hold.turns,
            "altitude_ft": round(hold.altitude_ft or 0.0),
            "reported_wind": self.wind_words,
        }
        if hold.name:
            said["name"] = hold.name
        if leg is not None:
            miles = {"distance_nm": round(leg.distance_nm or 0.0, 1)}
            said["leg"] = miles if leg.minutes is None else {"minutes": leg.minutes}
        return hold_file_text(said)

    @property
    def wind_words(self) -> str:
        """Direction true and knots: ``"240/22"``."""
        return f"{whole_direction(self.wind_from_true_deg):03d}/{self.wind_speed_kt:.0f}"

    @property
    def heading_words(self) -> str:
        """The arrival heading, degrees true: ``"035"``."""
        return f"{whole_direction(self.arrival_heading_true_deg):03d}"

    def command(self, file: str) -> str:
        """Write the command that makes the exercise's card from its hold file."""
        tas = self.briefing.flight.tas_kt if self.briefing else 0.0
        return (
            f"analyser brief --hold {file} --tas {tas:.0f} --wind {self.wind_words} "
            f"--heading {self.arrival_heading_true_deg:.0f} --true --rules {self.rules}"
        )


def plan_for(item: str) -> Plan | None:
    """Return what trains an item; None for one that nothing has been written for."""
    return next((plan for plan in _plans().exercises if plan.item == item), None)


@lru_cache(maxsize=1)
def _plans() -> _Plans:
    return load(_Plans, Path(__file__).parent / "exercises.toml")


def made_to_measure(plan: Plan, flown: LoggedHold, *, hard: bool) -> Exercise | None:
    """Lay an exercise on a hold that the pilot has flown, in the stronger wind where it is to be ``hard``.

    Place, course, turns, leg, level and airspeed of the hold are used again; None where its document does not say
    enough of them.
    """
    hold, tas = _hold(flown), flown.tas_kt
    if hold is None or not tas:
        return None
    share = plan.wind_share + (_plans().harder_by_share if hard else 0.0)
    from_deg = hold.inbound_course_true_deg + hold.side * plan.wind_off_course_deg
    wind = wrap360(5.0 * round(from_deg / 5.0)), float(max(1, round(share * tas)))
    zones = sectors(hold.inbound_course_true_deg, hold.turns)
    sector = next(one for one in zones if one.entry == plan.entry)
    width = (sector.to_heading_deg - sector.from_heading_deg) % 360.0
    heading = wrap360(5.0 * round((sector.from_heading_deg + width / 2.0) / 5.0))
    rules = flown.rules or "icao"
    return Exercise(plan, hold, rules, *wind, heading, _card(hold, rules, tas, wind, heading))


def _hold(flown: LoggedHold) -> Hold | None:
    lat, lon, course = flown.fix_lat_deg, flown.fix_lon_deg, flown.inbound_course_true_deg
    if lat is None or lon is None or course is None or flown.turns not in ("right", "left"):
        return None
    minutes, distance = flown.leg_minutes, flown.leg_distance_nm
    limit = LegLimit(minutes, None if minutes else distance) if minutes or distance else None
    return Hold(
        lat,
        lon,
        # To whole degrees: an inferred course is not known more finely, and nobody sets tenths.
        float(round(course)) % 360.0,
        "right" if flown.turns == "right" else "left",
        limit,
        flown.name,
        altitude_ft=4000.0 if flown.altitude_ft is None else 100.0 * round(flown.altitude_ft / 100.0),
    )


def _card(hold: Hold, rules: str, tas: float, wind: tuple[float, float], heading: float) -> Briefing | None:
    try:
        flight = flight_of(hold, tas_kt=float(round(tas)), wind=wind, arrival_heading_true_deg=heading)
        made = make_briefing(hold, load_regime(rules), flight)
    except UsageError:
        return None
    return made if made.exact.closes and math.isfinite(made.exact.outbound_heading_deg) else None
