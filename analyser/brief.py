"""Planning a hold: from what was asked on the command line to the card, its page and its JSON."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from analyser.airspace.obstacle_file import Obstacle, obstacles_asked_for
from analyser.collection.files import read
from analyser.earth.angles import wrap360
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.holds.briefing import Briefing, flight_of, make_briefing, with_station
from analyser.holds.definition import Hold
from analyser.holds.leaving_times import leave_after_s, over_s
from analyser.rules.load import load_regime

if TYPE_CHECKING:
    from analyser.airspace.obstacles import MinimumLevel
    from analyser.pages.card_writer import Card

#: Where no times of leaving are asked for, the card lists these after passing the fix.
_USUAL_MINUTES = (4, 5, 6, 7, 8, 9, 10)


@dataclass(frozen=True)
class CardRequest:
    """What was asked, in the words of the command line.

    Attributes
    ----------
    tas_kt, ias_kt, altitude_ft : float or None
        None: as in the hold file.
    wind : str or None
        ``"240/22"``.
    arrival_heading_deg : float or None
        In the reference that ``magnetic`` says.
    leave_at : str
        Times, comma between.
    obstacles : Path or None
        For the minimum holding level.
    """

    hold: Path
    tas_kt: float | None = None
    ias_kt: float | None = None
    altitude_ft: float | None = None
    isa_deviation_c: float = 0.0
    wind: str | None = None
    arrival_heading_deg: float | None = None
    magnetic: bool = True
    rules: str = "icao"
    category: str | None = None
    flight_director: bool = False
    turbulence: bool = False
    leave_at: str = ""
    over_at: str | None = None
    date: str | None = None
    fix_dme_nm: float | None = None
    inbound_towards_station: bool = True
    obstacles: Path | None = None
    high_terrain: bool = False


@dataclass(frozen=True)
class Made:
    """A card with the numbers behind it.

    Attributes
    ----------
    level : MinimumLevel or None
        Over the obstacles, where a file of them was given.
    """

    briefing: Briefing
    card: Card
    magnetic: bool
    level: MinimumLevel | None = None

    def lines(self) -> Iterator[str]:
        """Write the card for the terminal."""
        from analyser.pages.card_writer import lines

        return lines(self.card)

    def json_lines(self) -> Iterator[str]:
        """Write the numbers as JSON."""
        import json

        from analyser.airspace.describe import written_level
        from analyser.holds.briefing_document import briefing_document

        level = None if self.level is None else written_level(self.level).plain()
        document = {**briefing_document(self.briefing), "minimum_level": level}
        yield json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)

    def write(self, path: Path, paper: Literal["a5", "a6"] = "a5") -> None:
        """Write the page, whole or not at all."""
        from analyser.pages.card import card_page
        from analyser.whole_files import write_text_whole

        write_text_whole(path, card_page(self.briefing, self.card, magnetic=self.magnetic, paper=paper))


def make_card(asked: CardRequest) -> Made:
    """Work out what was asked.

    Raises
    ------
    UsageError
        Hold file, rules or an option are wrong.
    """
    from analyser.pages.card_writer import card_of

    when = _day(asked.date)
    regime = load_regime(asked.rules).under(
        flight_director=asked.flight_director, turbulence=asked.turbulence
    )
    hold = read(asked.hold).hold(when)
    if asked.fix_dme_nm is not None:
        hold = with_station(hold, asked.fix_dme_nm, inbound_towards_station=asked.inbound_towards_station)
    day = when or hold.leave_fix_at
    variation = hold.variation_deg or 0.0
    heading = _direction(asked.arrival_heading_deg)
    flight = flight_of(
        hold,
        altitude_ft=_altitude(asked.altitude_ft),
        tas_kt=_positive(asked.tas_kt, "--tas"),
        ias_kt=_positive(asked.ias_kt, "--ias"),
        isa_deviation_c=asked.isa_deviation_c,
        wind=_wind(asked.wind),
        arrival_heading_true_deg=None if heading is None else wrap360(heading + variation * asked.magnetic),
        category=_category(asked.category),
    )
    obstacles = obstacles_asked_for(asked.obstacles, high_terrain=asked.high_terrain)
    briefing = make_briefing(hold, regime, flight, leave_after_s=_leave_after_s(asked, hold), when=day)
    card = card_of(briefing, magnetic=asked.magnetic)
    if not obstacles:
        return Made(briefing, card, asked.magnetic)
    level, said = _level(briefing, obstacles, asked.high_terrain)
    return Made(briefing, replace(card, level=said), asked.magnetic, level)


def _level(
    briefing: Briefing, obstacles: list[Obstacle], high_terrain: bool
) -> tuple[MinimumLevel, tuple[str, ...]]:
    """Work out the minimum holding level, and say it with what it was worked out for."""
    from analyser.airspace.hold_airspace import area_for_hold
    from analyser.airspace.obstacles import minimum_holding_level
    from analyser.airspace.sentences import CAUTION, NOT_FAA, area_sentence, level_sentences

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


def _direction(degrees: float | None) -> float | None:
    if degrees is not None and not 0.0 <= degrees <= 360.0:
        raise UsageError(f"{degrees:g} is not a heading from 0 to 360", place="--heading")
    return degrees


def _altitude(altitude_ft: float | None) -> float | None:
    if altitude_ft is not None and not -2000.0 <= altitude_ft <= 60000.0:
        raise UsageError(f"{altitude_ft:g} ft is not an altitude from -2000 to 60000 ft", place="--altitude")
    return altitude_ft


def _positive(value: float | None, option: str) -> float | None:
    if value is not None and not 0.0 < value <= 600.0:
        raise UsageError(f"{value:g} is not an airspeed above 0 and up to 600 kt", place=option)
    return value


def _category(text: str | None) -> str | None:
    if text is not None and text.upper() not in {"A", "B", "C", "D", "E", "H"}:
        mend = "use A, B, C, D, E, or H for a helicopter"
        raise UsageError(f"'{text}' is no aircraft category", place="--category", mend=mend)
    return text.upper() if text is not None else None


def _leave_after_s(asked: CardRequest, hold: Hold) -> tuple[float, ...]:
    """Turn the times of leaving into seconds after passing the fix."""
    if not asked.leave_at and asked.over_at is None:
        return tuple(60.0 * minutes for minutes in _USUAL_MINUTES)
    parts = [part.strip() for part in asked.leave_at.split(",") if part.strip()]
    wanted = [leave_after_s(part, asked.over_at) for part in parts]
    if asked.over_at is None:
        return tuple(wanted)
    over_s(asked.over_at)
    if hold.leave_fix_at is not None:
        wanted.append(leave_after_s(hold.leave_fix_at.isoformat(), asked.over_at))
    return tuple(sorted(set(wanted)))
