"""The designer's figures as data: allowances of the template, tolerances of a fix, rounding of a level."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import analyser.rules
from analyser.rules.regime import Sourced
from analyser.rules.toml_data import RuleTable, load


class TemplateAllowances(Sourced):
    """What the holding template allows the pilot."""

    #: Earliest and latest start of the outbound turn after the fix.
    bank_late_s: float
    turn_late_s: float
    #: Added to the still-air time for the earliest and the latest end of the outbound leg, counted from the end of the
    #: latest outbound turn.
    outbound_early_s: float
    outbound_late_s: float
    #: Wind effect of the latest end beyond that of the earliest, seconds of wind.
    outbound_late_wind_s: float
    #: Outbound heading, either side.
    spread_deg: float


class DistanceLeg(Sourced):
    """How long after reading the limiting distance the turn may start."""

    late_s: float


class EntryTurns(Sourced):
    """How far the turns back towards the fix are followed, degrees."""

    parallel_deg: float
    offset_deg: float


class Cone(Sourced):
    """The cone above a radio aid in which it gives no bearing."""

    #: Half angle, from the vertical.
    cone_deg: float
    #: The cone is entered within its radius times the sine of this, either side of the course.
    aside_deg: float
    #: And crossed within this of the course.
    track_deg: float


class BearingAccuracy(Sourced):
    """Accuracy of a VOR's bearings: along the inbound course, and of one that crosses it, degrees either side."""

    inbound_deg: float
    crossing_deg: float


class DmeAccuracy(Sourced):
    """Accuracy of a DME distance: ``base_nm`` plus ``share`` of the distance."""

    base_nm: float
    share: float


class GnssTolerance(Sourced):
    """How well a satellite navigator knows the fix, across and along the course."""

    cross_nm: float
    along_nm: float


class LevelRounding(Sourced):
    """How a minimum level is rounded: up to whole steps."""

    round_to_ft: float


class HighTerrain(Sourced):
    """What the buffer's steps are multiplied by in high terrain."""

    buffer_times: float


class Doubt(Sourced):
    """How far outside the drawn area a flight may be without surely being outside the true one."""

    #: What the simplified construction may leave out of the two areas.
    circuit_nm: float
    entry_nm: float
    #: What a fix tolerance would add where the kind of fix is not known.
    unknown_fix_nm: float


class AirspaceRules(RuleTable):
    """All of them."""

    template: TemplateAllowances
    distance_leg: DistanceLeg
    entry_turns: EntryTurns
    overhead_vor: Cone
    overhead_ndb: Cone
    bearing: BearingAccuracy
    dme: DmeAccuracy
    gnss: GnssTolerance
    level: LevelRounding
    high_terrain: HighTerrain
    doubt: Doubt


@lru_cache(maxsize=1)
def load_airspace_rules() -> AirspaceRules:
    """Load the designer's figures that come with the program."""
    return load(AirspaceRules, Path(analyser.rules.__file__).parent / "airspace.toml")
