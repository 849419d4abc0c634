"""Planning a hold: from what was asked on the command line to the card, its page and its JSON.

In the JSON directions are degrees true, and what is not known is null.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from analyser import CAUTION_IN_SHORT
from analyser.airspace.obstacle_file import Obstacle, obstacles_asked_for
from analyser.collection.files import read
from analyser.earth.angles import wrap360
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.holds.briefing import Briefing, flight_of, make_briefing, with_station
from analyser.holds.definition import Hold
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import LeavePlan
from analyser.holds.leaving_times import leave_after_s, over_s, which_reading
from analyser.holds.rules_of_thumb import ThumbComparison
from analyser.rules.load import load_regime
from analyser.rules.regime import Sourced

if TYPE_CHECKING:
    from analyser.airspace.obstacles import MinimumLevel
    from analyser.pages.card_writer import Card

#: Where no times of leaving are asked for, the card lists these after passing the fix.
_USUAL_MINUTES = (4, 5, 6, 7, 8, 9, 10)
_AIRSPEED = (1e-6, 600.0, "is not an airspeed above 0 and up to 600 kt")
#: Lowest and highest that an option may be, and what anything else is not.
_RANGES = {
    "--heading": (0.0, 360.0, "is not a heading from 0 to 360"),
    "--altitude": (-2000.0, 60000.0, "ft is not an altitude from -2000 to 60000 ft"),
    "--tas": _AIRSPEED,
    "--ias": _AIRSPEED,
}


@dataclass(frozen=True)
class Made:
    """A card with the numbers behind it.

    ``level`` is the lowest one over the obstacles, where a file of them was given; ``notes`` is what the person should
    know besides.
    """

    briefing: Briefing
    card: Card
    magnetic: bool
    notes: tuple[str, ...]
    level: MinimumLevel | None = None

    def lines(self) -> Iterator[str]:
        """Write the card for the terminal."""
        from analyser.pages.card_writer import lines

        return lines(self.card)

    def json_lines(self) -> Iterator[str]:
        """Write the numbers as JSON."""
        import json

        from analyser.airspace.describe import written_level

        level = None if self.level is None else written_level(self.level).plain()
        document = {**briefing_document(self.briefing), "minimum_level": level}
        yield json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)

    def write(self, path: Path, paper: Literal["a5", "a6"] = "a5") -> None:
        """Write the page, whole or not at all."""
        from analyser.pages.card import card_page
        from analyser.whole_files import write_text_whole

        write_text_whole(path, card_page(self.briefing, self.card, magnetic=self.magnetic, paper=paper))


def make_card(
    hold_file: Path,
    *,
    rules: str = "icao",
    flight_director: bool = False,
    turbulence: bool = False,
    date: str | None = None,
    tas_kt: float | None = None,
    ias_kt: float | None = None,
    altitude_ft: float | None = None,
    isa_deviation_c: float = 0.0,
    wind: str | None = None,
    arrival_heading_deg: float | None = None,
    true: bool = False,
    category: str | None = None,
    fix_dme_nm: float | None = None,
    from_station: bool = False,
    leave_at: str = "",
    over_at: str | None = None,
    obstacles: Path | None = None,
    high_terrain: bool = False,
) -> Made:
    """Work out what was asked, in the words of the command line; what is None is as in the hold file.

    ``wind`` is like ``"240/22"``; the arrival heading and the card's directions are magnetic, or ``true``; ``leave_at``
    are times, comma between; ``obstacles`` is a file of them, for the minimum holding level. Raises UsageError if hold
    file, rules or an option are wrong.
    """
    from analyser.pages.card_writer import card_of

    when = _day(date)
    regime = load_regime(rules).under(flight_director=flight_director, turbulence=turbulence)
    hold = read(hold_file).hold(when)
    if fix_dme_nm is not None:
        hold = with_station(hold, fix_dme_nm, inbound_towards_station=not from_station)
    heading = _in_range(arrival_heading_deg, "--heading")
    variation = 0.0 if true else hold.variation_deg or 0.0
    flight = flight_of(
        hold,
        altitude_ft=_in_range(altitude_ft, "--altitude"),
        tas_kt=_in_range(tas_kt, "--tas"),
        ias_kt=_in_range(ias_kt, "--ias"),
        isa_deviation_c=isa_deviation_c,
        wind=_wind(wind),
        arrival_heading_true_deg=None if heading is None else wrap360(heading + variation),
        category=_category(category),
    )
    in_the_way = obstacles_asked_for(obstacles, high_terrain=high_terrain)
    leave_after, notes = _leave_after_s(leave_at, over_at, hold)
    briefing = make_briefing(hold, regime, flight, leave_after_s=leave_after, when=when or hold.leave_fix_at)
    card = card_of(briefing, magnetic=not true)
    if not in_the_way:
        return Made(briefing, card, not true, notes)
    level, said = _level(briefing, in_the_way, high_terrain)
    return Made(briefing, replace(card, level=said), not true, notes, level)


def _level(
    briefing: Briefing, obstacles: list[Obstacle], high_terrain: bool
) -> tuple[MinimumLevel, tuple[str, ...]]:
    """Work out the minimum holding level, and say it with what it was worked out for."""
    from analyser.airspace.describe import CAUTION, NOT_FAA, area_sentence, level_sentences
    from analyser.airspace.hold_airspace import area_for_hold
    from analyser.airspace.obstacles import minimum_holding_level

    hold, flight = briefing.hold, briefing.flight
    area = area_for_hold(
        hold, briefing.regime, altitude_ft=flight.altitude_ft, category=flight.category, leg=hold.leg
    )
    level = minimum_holding_level(hold, area, obstacles, high_terrain)
    faa = (NOT_FAA,) if briefing.regime.key == "faa" else ()
    return level, (*level_sentences(level, planned_ft=flight.altitude_ft), area_sentence(area), *faa, CAUTION)


def _day(text: str | None) -> datetime.date | None:
    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError as fault:
        raise UsageError(f"'{text}' is not a date", place="--date", mend="write 2026-03-14") from fault


def _wind(text: str | None) -> tuple[float, float] | None:
    from analyser.holds.holdfile_shape import wind_of

    if text is None:
        return None
    try:
        return wind_of(text)
    except ValueError as fault:
        raise UsageError(f"'{text}' must be {fault}", place="--wind") from fault


def _in_range(value: float | None, option: str) -> float | None:
    lowest, highest, what = _RANGES[option]
    # Not a number is in no range.
    if value is not None and not lowest <= value <= highest:
        raise UsageError(f"{value:g} {what}", place=option)
    return value


def _category(text: str | None) -> str | None:
    if text is not None and text.upper() not in {"A", "B", "C", "D", "E", "H"}:
        mend = "use A, B, C, D, E, or H for a helicopter"
        raise UsageError(f"'{text}' is no aircraft category", place="--category", mend=mend)
    return text.upper() if text is not None else None


def _leave_after_s(
    leave_at: str, over_at: str | None, hold: Hold
) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """Turn the times of leaving into seconds after passing the fix, with how each was taken that reads two ways."""
    if not leave_at and over_at is None:
        return tuple(60.0 * minutes for minutes in _USUAL_MINUTES), ()
    parts = [part.strip() for part in leave_at.split(",") if part.strip()]
    wanted = [leave_after_s(part, over_at) for part in parts]
    notes = tuple(note for part in parts if (note := which_reading(part, over_at)))
    if over_at is None:
        return tuple(wanted), notes
    over_s(over_at)
    if hold.leave_fix_at is not None:
        wanted.append(leave_after_s(hold.leave_fix_at.isoformat(), over_at))
    return tuple(sorted(set(wanted))), notes


#: Raised only when a key changes its meaning or goes; additions keep it.
SCHEMA = 1


def briefing_document(briefing: Briefing) -> dict[str, Any]:
    """Write a briefing as plain data, ready for JSON: beside every number that rests on a rule stands the rule."""
    b = briefing
    hold, flight, leg = b.hold, b.flight, b.hold.leg
    wind = {"from_true": flight.wind_from_true_deg, "speed_kt": flight.wind_speed_kt}
    return {
        "schema": SCHEMA,
        "kind": "brief",
        "caution": CAUTION_IN_SHORT,
        "rules": b.regime.key,
        "hold": {
            "name": hold.name,
            "fix": {"lat": hold.fix_lat_deg, "lon": hold.fix_lon_deg},
            "inbound_course_true": hold.inbound_course_true_deg,
            "inbound_course_magnetic": (hold.inbound_course_true_deg - b.variation.variation_deg) % 360.0,
            "variation": b.variation.variation_deg,
            "variation_model": b.variation.model,
            "variation_within_validity": b.variation.within_validity,
            "turns": hold.turns,
            "leg": leg and _taken(leg, "distance_nm" if leg.minutes is None else "minutes"),
        },
        "flight": _taken(flight, "altitude_ft", "tas_kt", "ias_kt", "isa_deviation_c", "category")
        | {
            "wind": wind if flight.wind_known else None,
            "arrival_heading_true": flight.arrival_heading_true_deg,
        },
        "speed_limit": {
            "kias": None if math.isnan(b.speed_limit_kias) else b.speed_limit_kias,
            "exceeded": b.too_fast,
            "rule": _rule(b.speed_limit),
        },
        "turns": {
            "bank_deg": b.exact.bank_deg,
            "rate_dps": b.exact.turn_rate_dps,
            "rule": _rule(b.regime.turns),
        },
        "leg": {
            "still_air_s": b.still_air_s,
            "fixes": b.regime.clock.fixes,
            "outbound_end_dme_nm": leg.end_dme_nm if leg else None,
            "exact_end_dme_nm": b.exact_end_dme_nm,
            "rule": None if leg else _rule(b.regime.leg_step(flight.altitude_ft)),
        },
        "circuit": _circuit(b.exact) | {"clock": _rule(b.regime.clock)},
        "entry": {
            "sectors": [_taken(one, "entry", "from_heading_true", "to_heading_true") for one in b.sectors],
            "zone_deg": b.regime.entry.zone_deg,
            "sectors_allowed": list(b.allowed) if flight.arrival_heading_true_deg is not None else None,
            "plans": [_taken(one, *_ENTRY) for one in b.entries],
            "rule": _rule(b.regime.entry),
        },
        "winds": [
            {
                "from_true": one.wind_from_true_deg,
                "speed_kt": one.wind_speed_kt,
                "circuit": _circuit(one.exact),
            }
            for one in b.winds
        ],
        "turn_in": [
            {"back_after_s": one.total_s, "to_go_s": one.total_s - one.turn_in_after_s}
            | _taken(one, *_TURN_IN)
            for one in b.turn_in
        ],
        "leaving": {"plans": [_leave(one) for one in b.leaving], "rule": _rule(b.regime.leaving)},
        "rules_of_thumb": [_thumb(one) for one in b.beside],
    }


#: What is taken of a circuit, an entry, a shortened circuit as it stands.
_CIRCUIT = (
    *("exists", "closes", "inbound_heading_true", "inbound_time_s", "inbound_distance_nm"),
    *("inbound_ground_speed_kt", "outbound_heading_true", "outbound_correction_deg", "outbound_track_true"),
    *("outbound_ground_speed_kt", "outbound_time_s", "outbound_timed_s", "abeam_after_s", "drift_multiple"),
    *("first_turn_s", "second_turn_s", "total_s", "gate_bearing_deg", "roll_s"),
)
_ENTRY = (
    *("entry", "track_true", "heading_true", "first_turn", "first_turn_deg", "rule_time_s", "time_s"),
    *("end_nm", "second_turn"),
)
_TURN_IN = ("turn_in_after_s", "outbound_timed_s", "clock_from", "outbound_time_s", "outbound_heading_true")


def _taken(one: object, *keys: str) -> dict[str, Any]:
    """Take what an object calls as the file does, but for directions: those end in ``_deg`` there. NaN is null."""
    found = {key: getattr(one, key.replace("_true", "_deg")) for key in keys}
    return {
        key: None if isinstance(value, float) and math.isnan(value) else value for key, value in found.items()
    }


def _circuit(exact: ExactCircuit) -> dict[str, Any]:
    correction = exact.inbound_drift_correction_deg if exact.closes else None
    return _taken(exact, *_CIRCUIT) | {"why_not": exact.why_not or None, "inbound_correction_deg": correction}


def _leave(plan: LeavePlan) -> dict[str, Any]:
    shortened = [_circuit(one) for one in plan.shortened]
    known = _taken(plan, "wanted_s", "feasible", "leaves_s", "full_circuits")
    return known | {"why_not": plan.why_not or None, "shortened": shortened}


def _thumb(one: ThumbComparison) -> dict[str, Any]:
    rule = one.thumb.rule
    said = {"for": one.what, "name": rule.name, "words": rule.words, "rule": _rule(rule)}
    return said | _taken(one.thumb, "value", "unit") | _taken(one, "exact", "error", "good")


def _rule(sourced: Sourced) -> dict[str, Any]:
    return _taken(sourced, "source", "standing")
