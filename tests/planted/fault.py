"""One planted fault, and the flight it is planted in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from tests.flights.air import Air
from tests.flights.hold_plan import Drift, Ending, Kind

Part = Literal["outbound", "inbound"]
#: When a level is left: on the way to the fix, just after it, well into each circuit, or late on its inbound leg.
When = Literal["arrival", "entry", "circuit", "homeward"]


@dataclass(frozen=True)
class Fault:
    """What the pilot does wrong; nothing by default. Circuits count from 1; ``on`` is where it is done, None for all.

    Attributes
    ----------
    level_off_ft : float
        Flown above the level of the hold file, from before the fix to the end.
    bust_ft, bust_s : float
        Left the level by so much, for so long at the other level; infinite: never went back.
    sink_fpm : float
        Sinking all the time.
    bust_when : str
        In which part of the flight or of its circuits.
    bust_back_ft : float
        Above the level, after a bust: 0 is back where it should be.
    climb_fpm : float
        Rate of going to and from the other level.
    bank_deg : float or None
        Bank flown in ``bank_parts`` instead of the right one.
    outbound_s : float
        Added to the outbound leg.
    outbound_factor : float
        The outbound leg's time, multiplied.
    outbound_is_s : float or None
        The outbound leg's time whatever the wind: 0 flies one turn into the other.
    outbound_heading_deg : float
        Added to the outbound heading, towards the hold's side.
    late_s : float
        The outbound turn begun so late after the fix.
    drift : str or None
        How the wind is corrected for instead of exactly.
    speed_kt : float
        Indicated, above the speed of the hold file.
    swing_deg : float
        The bank swings by so much.
    beside_nm : float
        The inbound course flown so far to the right of the true one.
    arrival_speed_kt : float
        Indicated, above the speed of the hold file until the first circuit.
    turn_speed_kt : float
        Indicated, added as soon as a turn begins, and taken off after it.
    steep_deg, steep_s : float
        The outbound turn is flown at so much bank for so long, from some way into it.
    orbit : bool
        A full circle over the fix before the outbound turn.
    wrong_hand, entry_wrong_way : bool
        The whole hold to the other hand; the entry turned back to the other side.
    wrong_lap, wrong_back : bool
        Circuits begun to the other hand, and inbound turns made to it.
    lap_speed_kt : float
        Indicated, above the speed of the hold file on these circuits.
    also : tuple of Fault
        What else is done wrong on circuits, each on its own.
    """

    on: tuple[int, ...] | None = None
    level_off_ft: float = 0.0
    bust_ft: float = 0.0
    bust_s: float = 20.0
    bust_when: When = "circuit"
    bust_back_ft: float = 0.0
    sink_fpm: float = 0.0
    climb_fpm: float = 700.0
    bank_deg: float | None = None
    bank_parts: tuple[Part, ...] = ("outbound", "inbound")
    outbound_s: float = 0.0
    outbound_factor: float = 1.0
    outbound_is_s: float | None = None
    outbound_heading_deg: float = 0.0
    late_s: float = 0.0
    drift: Drift | None = None
    speed_kt: float = 0.0
    swing_deg: float = 0.0
    beside_nm: float = 0.0
    arrival_speed_kt: float = 0.0
    turn_speed_kt: float = 0.0
    steep_deg: float = 0.0
    steep_s: float = 5.0
    orbit: bool = False
    wrong_lap: bool = False
    wrong_back: bool = False
    wrong_hand: bool = False
    entry_wrong_way: bool = False
    entry_time_factor: float = 1.0
    entry_track_off_deg: float = 0.0
    lap_speed_kt: float = 0.0
    also: tuple[Fault, ...] = ()

    def is_on(self, circuit: int) -> bool:
        """Return whether it is done on a circuit."""
        return self.on is None or circuit in self.on

    def here(self, circuit: int) -> list[Fault]:
        """Return what is done wrong on a circuit: this, and what else is."""
        return [one for one in (self, *self.also) if one.is_on(circuit)]


@dataclass(frozen=True)
class Scene:
    """The hold it is planted in, and what else there is to know."""

    rules: str = "icao"
    side: int = 1
    course_deg: float = 30.0
    circuits: int = 3
    entry: Kind = "direct"
    asked: Kind | None = None
    """The entry whose sector the arrival lies in, where another is flown."""
    arrival_off_deg: float | None = None
    """The outbound course less the arrival's heading, mirrored for a left hold; None: well inside the sector."""
    level_ft: float = 4000.0
    tas_kt: float = 110.0
    air: Air = field(default_factory=lambda: Air(100.0, 15.0, 4000.0))
    leg_nm: float | None = None
    ending: Ending = "fix"
    cleared: tuple[tuple[int, float], ...] = ()
    """Levels that the hold file clears: from which circuit on, and to what, feet."""
    seed: int = 1
    logged_speed: bool = False
    interval_s: float = 1.0
    hold_file: bool = True
    """Whether the program is given the hold file."""
    leave_late_s: float | None = None
    """How long after the time of the hold file the fix is left at the end; None: no time is given."""
    file_course_off_deg: float = 0.0
    """Added to the course that the hold file gives."""
    max_kias: float | None = None
    category: str | None = None
    turbulence: bool = False
    """Whether turbulence is said to have been flown in."""
    level_given: bool = True
    speed_given: bool = True
    holes: tuple[tuple[int, float, float], ...] = ()
    """Of the log: the circuit, from so many seconds after its fix on, for so long."""
    fix_dme_nm: float | None = None
    """What a station ahead on the inbound course reads at the fix of a distance leg."""
    radial_off_deg: float | None = None
    """The limiting radial, from the reciprocal of the course towards the holding side."""
