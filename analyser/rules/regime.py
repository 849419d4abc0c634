"""What one set of holding rules says: leg times, turns, speeds, entries, and where each number comes from."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from analyser.earth.atmosphere import sound_speed_kt, tas_to_cas
from analyser.earth.turning import turn_bank_deg, turn_rate_dps
from analyser.rules.toml_data import RuleTable

#: How sure a figure is: read at its issuing body or a copy of its text, read quoted by someone else, from
#: memory, derived by arithmetic, or common practice in the trade without a source.
Standing = Literal["published", "quoted", "from memory", "derived", "common practice"]


class Sourced(RuleTable):
    """A figure with its pedigree."""

    #: Document, edition where known, and paragraph.
    source: str
    #: How it was read.
    standing: Standing


class LegStep(Sourced):
    """Leg time up to and including an altitude (None: without limit)."""

    minutes: float
    up_to_altitude_ft: float | None = None


class OutboundClock(Sourced):
    """Which leg the time fixes, and when the outbound clock starts."""

    #: The leg whose length the rules prescribe.
    fixes: Literal["outbound", "inbound"]
    #: Where the outbound clock starts.
    starts: Literal["later of over or abeam", "wings level"]
    #: Where it starts if abeam cannot be found.
    otherwise: Literal["wings level", "not judged"]


class TurnLimit(Sourced):
    """Turns are flown at the lesser bank of a rate and a bank limit."""

    rate_dps: float
    bank_limit_deg: float
    #: The limit with a flight director, where the rules name one.
    bank_limit_flight_director_deg: float | None = None


class SpeedLimit(Sourced):
    """Maximum speed above one altitude, up to and including another (None: without limit)."""

    above_altitude_ft: float | None = None
    up_to_altitude_ft: float | None = None
    #: The lesser holds where both are given.
    kias: float | None = None
    mach: float | None = None
    #: Aircraft categories it applies to; empty for all.
    categories: tuple[str, ...] = ()
    #: "charted" limits apply only where the chart prints them.
    when: Literal["always", "charted", "turbulence"] = "always"


class Arrivals(Sourced):
    """Entries to a hold on a radial and distance, by the published way to its fix."""

    #: Entries for an arrival along the reciprocal of the inbound course, and on the distance arc of the fix.
    reciprocal: tuple[Literal["direct", "parallel", "offset"], ...]
    arc: tuple[Literal["direct", "parallel", "offset"], ...]
    #: Whose heading at the fix is farther from that of the way did not come by it.
    within_deg: float


class EntryRule(Sourced):
    """Entry sectors by heading at the fix, and how each entry is flown."""

    #: Width of the offset sector on the holding side, and of the parallel sector on the other.
    offset_sector_deg: float
    parallel_sector_deg: float
    #: Within this of a boundary either neighbour is right.
    zone_deg: float
    #: Between the offset entry's leg and the reciprocal of the inbound course.
    offset_angle_deg: float
    #: What the document calls that entry.
    offset_word: Literal["offset", "teardrop"] = "offset"
    #: Whether the entries' legs are given as tracks to make good or as headings to turn to.
    angles_are: Literal["tracks", "headings"] = "tracks"
    #: Whether another sector's entry is wrong, or only not the one recommended.
    binding: Literal["prescribed", "recommended"] = "prescribed"
    #: Entries by the published way to the fix instead of by sector, where the document names such.
    arrivals: Arrivals | None = None

    def word(self, entry: str) -> str:
        """Return what the document calls an entry: its own word for the offset one."""
        return self.offset_word if entry == "offset" else entry


class RuleText(Sourced):
    """A rule that is words and no number."""

    words: str


class Multiple(Sourced):
    """A factor on the inbound wind correction, flown outbound."""

    multiple: float


class Allowances(Sourced):
    """What a procedure designer allows the pilot: the defensible band where no standard sets a tolerance."""

    #: Plus or minus.
    timing_s: float
    heading_deg: float
    #: From nothing up to.
    reaction_s: float
    bank_establishment_s: float
    #: The shortest inbound leg that is planned, after the turn.
    least_inbound_s: float


class LeastOutbound(Sourced):
    """The shortest outbound leg that is planned, from wings level."""

    time_s: float


class FlownLevel(Sourced):
    """By how much lower the rules' tables are entered for a level that was flown without a clearance."""

    below_ft: float


class SlowDown(Sourced):
    """How long before the fix the speed must be at or below the maximum holding speed, and stay there."""

    before_fix_s: float


class LeastSpeed(Sourced):
    """Slower than this no hold should be flown, knots indicated."""

    kias: float


class Rolling(Sourced):
    """How briskly a calm hand rolls into and out of a turn, degrees of bank per second."""

    roll_rate_dps: float


class DesignWind(Sourced):
    """Wind the protected area allows for, from any side: ``base_kt`` + ``per_1000_ft_kt`` per 1,000 ft."""

    base_kt: float
    per_1000_ft_kt: float
    isa_deviation_c: float


class Clearance(Sourced):
    """Obstacle clearance in the holding area and in the buffer's steps outwards."""

    #: Within the holding area.
    area_ft: float
    area_high_terrain_ft: float
    #: Width of one step.
    buffer_step_nm: float
    #: Clearance in each step, inside to outside.
    buffer_ft: tuple[float, ...]


class Regime(RuleTable):
    """One set of rules."""

    key: Literal["icao", "faa"]
    #: How to name it, and the document behind it.
    name: str
    document: str
    #: By altitude, lowest first; of a holding leg and of an entry's outbound leg.
    leg_time: tuple[LegStep, ...]
    entry_time: tuple[LegStep, ...]
    clock: OutboundClock
    turns: TurnLimit
    speeds: tuple[SpeedLimit, ...]
    entry: EntryRule
    #: What it says about correcting for wind.
    wind: RuleText
    #: What ends the outbound leg of a hold limited by distance.
    distance_leg: RuleText
    leaving: RuleText
    allowances: Allowances
    least_outbound: LeastOutbound
    #: Not a rule: how a level is looked up that nobody cleared.
    flown_level: FlownLevel
    #: Not a rule: the roll that the exact circuit assumes unless told otherwise.
    rolling: Rolling
    #: The outbound multiple it names, if any.
    drift: Multiple | None = None
    #: None where the document names no time.
    slow_down: SlowDown | None = None
    least_speed: LeastSpeed | None = None
    design_wind: DesignWind | None = None
    clearance: Clearance | None = None

    def leg_minutes(self, altitude_ft: float) -> float:
        """Return the still-air time of the leg that the clock fixes, minutes; unknown (NaN) counts as low."""
        return _step(self.leg_time, altitude_ft).minutes

    def leg_step(self, altitude_ft: float) -> LegStep:
        """Return the row of the leg-time table for an altitude, with its source."""
        return _step(self.leg_time, altitude_ft)

    def entry_minutes(self, altitude_ft: float) -> float:
        """Return the still-air time of a parallel or offset entry's outbound leg, minutes."""
        return _step(self.entry_time, altitude_ft).minutes

    def under(self, *, flight_director: bool = False, turbulence: bool = False) -> Regime:
        """Return the rules for one flight: with a flight director, or cleared for the speed in turbulence.

        Both change something only where the rules name a limit of their own for it.
        """
        turns, speeds = self.turns, self.speeds
        steered = turns.bank_limit_flight_director_deg
        if flight_director and steered is not None:
            turns = replace(turns, bank_limit_deg=steered)
        if turbulence:
            rough = tuple(replace(row, when="always") for row in speeds if row.when == "turbulence")
            # The first row that reaches a level is taken, so those for turbulence go before the usual ones.
            speeds = (*rough, *(row for row in speeds if row.when != "turbulence"))
        return replace(self, turns=turns, speeds=speeds)

    def speed_limit(
        self, altitude_ft: float, category: str | None = None, charted_kias: float | None = None
    ) -> SpeedLimit:
        """Return the row of the speed table that applies, with its source.

        Parameters
        ----------
        category : "A" … "H", optional
            Aircraft category; without it the general limit applies.
        charted_kias : float, optional
            A limit that the chart prints for this hold; it counts where it is lower and belongs to the level.
        """
        rows = [row for row in self.speeds if row.when == "always" and _reaches(row, altitude_ft)]
        # A limit for the aircraft's own category goes before the general one.
        named = [row for row in rows if category is not None and category in row.categories]
        usual = (named or [row for row in rows if not row.categories])[0]
        charted = None if charted_kias is None else self._charted(altitude_ft, charted_kias)
        lower = charted is not None and _kias(charted, altitude_ft) < _kias(usual, altitude_ft)
        return charted if charted is not None and lower else usual

    def _charted(self, altitude_ft: float, kias: float) -> SpeedLimit | None:
        """Return a charted limit as a row; None where the rules know it for other levels only."""
        known = [row for row in self.speeds if row.when == "charted" and row.kias == kias]
        if known:
            return next((row for row in known if _reaches(row, altitude_ft)), None)
        return SpeedLimit(
            kias=kias, when="charted", source="charted limit, as the hold file gives it", standing="quoted"
        )

    def speed_limit_kias(
        self, altitude_ft: float, category: str | None = None, charted_kias: float | None = None
    ) -> float:
        """Return the maximum holding speed, knots indicated, arguments as for :meth:`speed_limit`.

        A Mach limit is turned into indicated airspeed in the standard atmosphere.
        """
        return _kias(self.speed_limit(altitude_ft, category, charted_kias), altitude_ft)

    def turn_rate_dps(self, tas_kt: float) -> float:
        """Return the turn rate: rate one, or what the bank limit gives, whichever needs the lesser bank; positive."""
        return min(self.turns.rate_dps, turn_rate_dps(self.turns.bank_limit_deg, tas_kt))

    def turn_bank_deg(self, tas_kt: float) -> float:
        """Return the bank of the prescribed turn, degrees, positive."""
        return min(turn_bank_deg(self.turns.rate_dps, tas_kt), self.turns.bank_limit_deg)

    def roll_s(self, tas_kt: float) -> float:
        """Return the time to roll into, or out of, the prescribed turn, seconds."""
        return self.turn_bank_deg(tas_kt) / self.rolling.roll_rate_dps


def _kias(row: SpeedLimit, altitude_ft: float) -> float:
    limits = [row.kias] if row.kias is not None else []
    if row.mach is not None:
        limits.append(tas_to_cas(row.mach * sound_speed_kt(altitude_ft), altitude_ft))
    return min(limits)


def _reaches(row: LegStep | SpeedLimit, altitude_ft: float) -> bool:
    # Written so that an unknown altitude (NaN) gets the lowest row, where most holds are flown.
    if (
        isinstance(row, SpeedLimit)
        and row.above_altitude_ft is not None
        and not altitude_ft > row.above_altitude_ft
    ):
        return False
    return row.up_to_altitude_ft is None or not altitude_ft > row.up_to_altitude_ft


def _step(steps: tuple[LegStep, ...], altitude_ft: float) -> LegStep:
    return next(step for step in steps if _reaches(step, altitude_ft))
