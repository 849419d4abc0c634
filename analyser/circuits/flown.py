"""What a flight holds: its holds as they were flown, cut at their instants, and what else a search found.

No judgement here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.thresholds import CUTTING
from analyser.frozen import dataclass
from analyser.holds.definition import Hold, Turns
from analyser.logs.text import clock_text
from analyser.logs.track import FloatArray, Notice
from analyser.motion.motion import Motion

EntryFlown = Literal["direct", "parallel", "offset", "other"]


@dataclass(frozen=True)
class Turn:
    """One turn, from wings leaving level to wings level again."""

    #: Seconds from the log's first sample.
    start_s: float
    end_s: float
    #: Sigma of those instants.
    start_sd_s: float
    end_sd_s: float
    #: Through the air, positive right.
    heading_change_deg: float
    #: Over the established part (roll-in and roll-out left out), positive right; and sigma of the mean.
    bank_mean_deg: float
    bank_mean_sd_deg: float
    #: The largest bank (signed as the turn).
    bank_max_deg: float
    #: rms about the mean over the established part.
    bank_wander_deg: float
    #: Mean air turn rate over the established part, positive right.
    rate_mean_dps: float
    #: Where the established part begins and ends.
    established_start_s: float
    established_end_s: float

    @property
    def duration_s(self) -> float:
        """Seconds from wings leaving level to wings level."""
        return self.end_s - self.start_s

    def between(self, start_s: float, end_s: float) -> Turn:
        """Cut out the part that lies between two instants; turned through evenly.

        Parameters
        ----------
        start_s, end_s : float
            Where it ends; one outside the turn changes nothing.
        """
        first, last = max(start_s, self.start_s), min(end_s, self.end_s)
        return replace(
            self,
            start_s=first,
            end_s=last,
            heading_change_deg=self.heading_change_deg * min((last - first) / max(self.duration_s, 1.0), 1.0),
            established_start_s=float(np.clip(self.established_start_s, first, last)),
            established_end_s=float(np.clip(self.established_end_s, first, last)),
        )


def is_unseen(motion: Motion, turn: Turn) -> bool:
    """Tell whether most of a turn lies in a hole of the log: nobody saw which way it went."""
    return float(motion.in_hole[motion.span(turn.start_s, turn.end_s)].mean()) > 0.5


@dataclass(frozen=True)
class Leg:
    """One straight leg, from wings level to wings leaving level (or to the fix)."""

    start_s: float
    end_s: float
    #: Mean direction through the air, degrees on the map (true at the fix) [0, 360).
    heading_deg: float
    heading_sd_deg: float
    #: Mean direction over the ground, from the leg's first point to its last.
    track_deg: float

    @property
    def duration_s(self) -> float:
        """Seconds from the leg's start to its end."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Circuit:
    """One lap, fix to fix: outbound turn, outbound leg, inbound turn, inbound leg.

    Parts that were never flown (cut short, log ended, in a hole) are None, and then ``complete`` is False.
    """

    #: From 1.
    number: int
    #: Passage of the fix at the start, and at the end (or where it was broken off).
    start_s: float
    end_s: float
    complete: bool
    outbound_turn: Turn | None
    outbound_leg: Leg | None
    #: Crossing of the perpendicular to the inbound course through the fix, outbound; None where it was not met.
    abeam_s: float | None
    inbound_turn: Turn | None
    inbound_leg: Leg | None
    #: Mean wind met on this circuit, TOWARDS, and sigma per axis.
    wind_east_kt: float
    wind_north_kt: float
    wind_sd_kt: float
    #: Mean true airspeed on this circuit.
    tas_kt: float
    tas_sd_kt: float
    #: Whole circles that were flown within a leg, seconds: no part of its time, heading and track.
    circles_s: tuple[tuple[float, float], ...] = ()

    def circled(self, time_s: FloatArray) -> NDArray[np.bool_]:
        """Tell which instants lie within a whole circle: (n,) bool."""
        inside = np.zeros(time_s.shape, dtype=bool)
        for start_s, end_s in self.circles_s:
            inside |= (time_s >= start_s) & (time_s <= end_s)
        return inside

    def circling_s(self, start_s: float, end_s: float) -> float:
        """Return for how long whole circles were flown between two instants."""
        return sum(max(min(b, end_s) - max(a, start_s), 0.0) for a, b in self.circles_s)


def part_words(circuit: Circuit) -> str:
    """Say of the only circuit, not seen to its end, what is seen of it: with no capital and no full stop."""
    after = "turn outbound" if circuit.inbound_turn is None else "turn inbound"
    seen = f"is followed until {clock_text(circuit.end_s)}, after its {after}, and not to its end"
    return f"the one circuit that is seen from its beginning {seen}"


@dataclass(frozen=True)
class Entry:
    """How the hold was joined, from the first passage of the fix to the start of the first circuit."""

    #: First passage of the fix.
    fix_s: float
    #: Where the first circuit begins (equal to ``fix_s`` for a direct entry).
    end_s: float
    #: Air heading over the fix.
    arrival_heading_deg: float
    arrival_heading_sd_deg: float
    flown: EntryFlown
    #: The outbound leg of a parallel or offset entry.
    leg: Leg | None
    #: The entry's own turns, in order; the last is its turn back. Corrections on the way in are left out.
    turns: tuple[Turn, ...]
    #: What it may have been as well: an offset entry hardly led off looks like a first lap.
    perhaps: EntryFlown | None = None


@dataclass(frozen=True)
class OtherEnd:
    """The hold that a flight may have flown as well as the one inferred: its fix at the racetrack's other end."""

    #: WGS84.
    fix_lat_deg: float
    fix_lon_deg: float
    #: [0, 360).
    inbound_course_true_deg: float
    #: That this is the one; at most one half.
    chance: float


@dataclass(frozen=True)
class FlownHold:
    """One hold found in a flight."""

    #: As given, or as inferred (then ``leg`` is inferred too).
    hold: Hold
    #: What the flight itself says, also where a hold was given (for comparing); None where it says nothing.
    inferred: Hold | None
    #: Sigma of the inferred fix (per axis) and course; None where given. Where the other end may be the fix, two
    #: sigmas reach it.
    fix_sd_nm: float | None
    course_sd_deg: float | None
    #: From before the arrival to after the departure, map origin on the fix.
    motion: Motion
    #: None where the log starts inside the hold.
    entry: Entry | None
    circuits: tuple[Circuit, ...]
    #: Arrival at the fix … last passage of the fix (or where the hold was broken off).
    start_s: float
    end_s: float
    notices: tuple[Notice, ...] = ()
    #: None where the fix was given, or lies beyond doubt at this end.
    other_end: OtherEnd | None = None
    #: Sigma of fix (per axis, nautical miles) and course (degrees) of ``inferred``, whether a hold was given or not.
    inferred_sd: tuple[float, float] | None = None

    @property
    def given(self) -> bool:
        """Whether a hold file defined it: then its course has no sigma."""
        return self.course_sd_deg is None

    @property
    def fix_along_sd_nm(self) -> float:
        """Sigma of the fix along the course, where nearly all of an inferred one's doubt lies; 0 for a given one."""
        return math.sqrt(2.0) * (self.fix_sd_nm or 0.0)

    def fix_along_sd_s(self, circuit: Circuit) -> float:
        """Return the same in seconds of a circuit's flight."""
        return 3600.0 * self.fix_along_sd_nm / max(circuit.tas_kt, CUTTING.least_tas_kt)

    @property
    def leg_known(self) -> bool:
        """Whether what limits the leg is known: a leg inferred from what was flown cannot be held against it."""
        return self.given or self.hold.leg is None

    @property
    def entry_unsure(self) -> bool:
        """Whether what was taken for an offset entry may have been the first circuit."""
        return self.entry is not None and self.entry.flown == "offset" and self.entry.perhaps is not None


#: How a given hold fits a flight. ``flown``: at least one hold was cut by it; ``flown-course``, ``flown-fix``: and its
#: laps by themselves fit another course, or they and the arrival another fix. ``flown-alike``: another given hold
#: was taken, this one fits as well. ``no-position``, ``not-near``: the flight never came near its fix.
#: ``sign``: the fix fits with the sign of its latitude or longitude turned round. ``passed``: the fix was flown over
#: or beside, and no hold was flown there. ``course-reversed``: a hold was flown there on the reciprocal course.
#: ``elsewhere``: the fix was passed, and the flight held at another place, or there on another course.
FitCode = Literal[
    "flown",
    "flown-course",
    "flown-fix",
    "flown-alike",
    "no-position",
    "not-near",
    "sign",
    "passed",
    "course-reversed",
    "elsewhere",
]


@dataclass(frozen=True)
class Objection:
    """One thing that speaks against a racetrack's being a hold."""

    #: Stable, lower-case words joined by hyphens: ``"legs-too-long"``.
    code: str
    #: What speaks against it, with no capital and no full stop: "its legs last 400 s on average".
    said: str
    #: True where it is certainly something else.
    certain: bool = False


@dataclass(frozen=True)
class SearchReason:
    """Why something was not taken for a hold, or one reading preferred to another."""

    #: Stable, lower-case words joined by hyphens: ``"legs-too-long"``.
    code: str
    #: In words for the pilot, a whole sentence.
    sentence: str
    #: Where in the flight, seconds from the log's first sample.
    start_s: float
    end_s: float
    #: Where on earth: the point that was taken for the fix.
    lat_deg: float | None = None
    lon_deg: float | None = None
    #: How many laps were seen.
    laps: int = 1


@dataclass(frozen=True)
class PossibleHold:
    """What may have been a hold: shown with what speaks for and against it, nothing scored."""

    #: Seconds from the log's first sample.
    start_s: float
    end_s: float
    #: Where its fix would be, WGS84.
    fix_lat_deg: float
    fix_lon_deg: float
    #: [0, 360).
    inbound_course_true_deg: float
    turns: Turns
    laps: int
    #: Sentences for the pilot.
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    #: True where the log's samples lie too far apart to tell.
    coarse: bool = False

    @property
    def in_short(self) -> str:
        """When it was, and what speaks for it first: with no capital and no full stop."""
        when = f"between {clock_text(self.start_s)} and {clock_text(self.end_s)}"
        said = self.speaks_for[0].removesuffix(".")
        return f"perhaps one {when}: {said[0].lower()}{said[1:]}"


@dataclass(frozen=True)
class HoldFit:
    """How a given hold fits a flight."""

    hold: Hold
    #: See :data:`FitCode`.
    code: FitCode
    #: In words for the pilot, a whole sentence.
    sentence: str
    #: Places in ``Search.holds`` of those that were cut by it.
    flown: tuple[int, ...] = ()
    #: How near the flight came to its fix, and when; None without positions.
    nearest_nm: float | None = None
    nearest_s: float | None = None


@dataclass(frozen=True)
class Search:
    """What was found in a flight."""

    #: In time order; no two overlap.
    holds: tuple[FlownHold, ...] = ()
    #: In time order; none overlaps a hold.
    possible: tuple[PossibleHold, ...] = ()
    #: What was dropped, nearest to a hold first.
    reasons: tuple[SearchReason, ...] = ()
    #: One for each given hold, in the order given.
    fits: tuple[HoldFit, ...] = ()

    @property
    def nearest_miss(self) -> str | None:
        """Where no hold was found: what came nearest to one, and why it is none."""
        if self.holds:
            return None
        near = [r.sentence for r in self.reasons] + [one.in_short for one in self.possible]
        return near[0] if near else NOTHING_LIKE_A_HOLD


NOTHING_LIKE_A_HOLD = (
    "no two turns of about 180° the same way with a leg between that come back over one point"
)
