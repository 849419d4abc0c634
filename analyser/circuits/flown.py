"""What a flight holds: its holds as they were flown, cut at their instants, and what else a search found.

No judgement here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.frozen import dataclass
from analyser.holds.definition import Hold, Turns
from analyser.logs.track import FloatArray, Notice
from analyser.motion.motion import Motion

EntryFlown = Literal["direct", "parallel", "offset", "other"]


@dataclass(frozen=True)
class Turn:
    """One turn, from wings leaving level to wings level again.

    Attributes
    ----------
    start_s, end_s : float
        Seconds from the log's first sample.
    start_sd_s, end_sd_s : float
        Sigma of those instants.
    heading_change_deg : float
        Through the air, positive right.
    bank_mean_deg, bank_mean_sd_deg : float
        Over the established part (roll-in and roll-out left out), positive right; and sigma of the mean.
    bank_max_deg : float
        The largest bank (signed as the turn).
    bank_wander_deg : float
        rms about the mean over the established part.
    rate_mean_dps : float
        Mean air turn rate over the established part, positive right.
    established_start_s, established_end_s : float
        Where the established part begins and ends.
    """

    start_s: float
    end_s: float
    start_sd_s: float
    end_sd_s: float
    heading_change_deg: float
    bank_mean_deg: float
    bank_mean_sd_deg: float
    bank_max_deg: float
    bank_wander_deg: float
    rate_mean_dps: float
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
    """One straight leg, from wings level to wings leaving level (or to the fix).

    Attributes
    ----------
    start_s, end_s : float
    heading_deg, heading_sd_deg : float
        Mean direction through the air, degrees on the map (true at the fix) [0, 360).
    track_deg : float
        Mean direction over the ground, from the leg's first point to its last.
    """

    start_s: float
    end_s: float
    heading_deg: float
    heading_sd_deg: float
    track_deg: float

    @property
    def duration_s(self) -> float:
        """Seconds from the leg's start to its end."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Circuit:
    """One lap, fix to fix: outbound turn, outbound leg, inbound turn, inbound leg.

    Parts that were never flown (cut short, log ended, in a hole) are None, and then ``complete`` is False.

    Attributes
    ----------
    number : int
        From 1.
    start_s, end_s : float
        Passage of the fix at the start, and at the end (or where it was broken off).
    complete : bool
    outbound_turn, inbound_turn : Turn or None
    outbound_leg, inbound_leg : Leg or None
    abeam_s : float or None
        Crossing of the perpendicular to the inbound course through the fix, outbound; None where it was not met.
    wind_east_kt, wind_north_kt, wind_sd_kt : float
        Mean wind met on this circuit, TOWARDS, and sigma per axis.
    tas_kt, tas_sd_kt : float
        Mean true airspeed on this circuit.
    circles_s : tuple of (float, float)
        Whole circles that were flown within a leg, seconds: no part of its time, heading and track.
    """

    number: int
    start_s: float
    end_s: float
    complete: bool
    outbound_turn: Turn | None
    outbound_leg: Leg | None
    abeam_s: float | None
    inbound_turn: Turn | None
    inbound_leg: Leg | None
    wind_east_kt: float
    wind_north_kt: float
    wind_sd_kt: float
    tas_kt: float
    tas_sd_kt: float
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


@dataclass(frozen=True)
class Entry:
    """How the hold was joined, from the first passage of the fix to the start of the first circuit.

    Attributes
    ----------
    fix_s : float
        First passage of the fix.
    end_s : float
        Where the first circuit begins (equal to ``fix_s`` for a direct entry).
    arrival_heading_deg, arrival_heading_sd_deg : float
        Air heading over the fix.
    flown : "direct", "parallel", "offset" or "other"
    leg : Leg or None
        The outbound leg of a parallel or offset entry.
    turns : tuple of Turn
        The entry's own turns, in order; the last is its turn back. Corrections on the way in are left out.
    perhaps : "direct", "offset" or None
        What it may have been as well: an offset entry hardly led off looks like a first lap.
    """

    fix_s: float
    end_s: float
    arrival_heading_deg: float
    arrival_heading_sd_deg: float
    flown: EntryFlown
    leg: Leg | None
    turns: tuple[Turn, ...]
    perhaps: EntryFlown | None = None


@dataclass(frozen=True)
class OtherEnd:
    """The hold that a flight may have flown as well as the one inferred: its fix at the racetrack's other end.

    Attributes
    ----------
    fix_lat_deg, fix_lon_deg : float
        WGS84.
    inbound_course_true_deg : float
        [0, 360).
    chance : float
        That this is the one; at most one half.
    """

    fix_lat_deg: float
    fix_lon_deg: float
    inbound_course_true_deg: float
    chance: float


@dataclass(frozen=True)
class FlownHold:
    """One hold found in a flight.

    Attributes
    ----------
    hold : Hold
        As given, or as inferred (then ``leg`` is inferred too).
    given : bool
        True where a hold file defined it.
    inferred : Hold or None
        What the flight itself says, also where a hold was given (for comparing); None where it says nothing.
    fix_sd_nm, course_sd_deg : float or None
        Sigma of the inferred fix (per axis) and course; None where given. Where the other end may be the fix, two
        sigmas reach it.
    motion : Motion
        From before the arrival to after the departure, map origin on the fix.
    entry : Entry or None
        None where the log starts inside the hold.
    circuits : tuple of Circuit
    start_s, end_s : float
        Arrival at the fix … last passage of the fix (or where the hold was broken off).
    notices : tuple of Notice
    other_end : OtherEnd or None
        None where the fix was given, or lies beyond doubt at this end.
    inferred_sd : tuple of float, or None
        Sigma of fix (per axis, nautical miles) and course (degrees) of ``inferred``, whether a hold was given or not.
    """

    hold: Hold
    given: bool
    inferred: Hold | None
    fix_sd_nm: float | None
    course_sd_deg: float | None
    motion: Motion
    entry: Entry | None
    circuits: tuple[Circuit, ...]
    start_s: float
    end_s: float
    notices: tuple[Notice, ...] = ()
    other_end: OtherEnd | None = None
    inferred_sd: tuple[float, float] | None = None

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
    """One thing that speaks against a racetrack's being a hold.

    Attributes
    ----------
    code : str
        Stable, lower-case words joined by hyphens: ``"legs-too-long"``.
    said : str
        What speaks against it, with no capital and no full stop: "its legs last 400 s on average".
    certain : bool
        True where it is certainly something else.
    """

    code: str
    said: str
    certain: bool = False


@dataclass(frozen=True)
class SearchReason:
    """Why something was not taken for a hold, or one reading preferred to another.

    Attributes
    ----------
    code : str
        Stable, lower-case words joined by hyphens: ``"legs-too-long"``.
    sentence : str
        In words for the pilot, a whole sentence.
    start_s, end_s : float
        Where in the flight, seconds from the log's first sample.
    lat_deg, lon_deg : float or None
        Where on earth: the point that was taken for the fix.
    laps : int
        How many laps were seen.
    """

    code: str
    sentence: str
    start_s: float
    end_s: float
    lat_deg: float | None = None
    lon_deg: float | None = None
    laps: int = 1


@dataclass(frozen=True)
class PossibleHold:
    """What may have been a hold: shown with what speaks for and against it, nothing scored.

    Attributes
    ----------
    start_s, end_s : float
        Seconds from the log's first sample.
    fix_lat_deg, fix_lon_deg : float
        Where its fix would be, WGS84.
    inbound_course_true_deg : float
        [0, 360).
    turns : "right" or "left"
    laps : int
    speaks_for, speaks_against : tuple of str
        Sentences for the pilot.
    coarse : bool
        True where the log's samples lie too far apart to tell.
    """

    start_s: float
    end_s: float
    fix_lat_deg: float
    fix_lon_deg: float
    inbound_course_true_deg: float
    turns: Turns
    laps: int
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    coarse: bool = False


@dataclass(frozen=True)
class HoldFit:
    """How a given hold fits a flight.

    Attributes
    ----------
    hold : Hold
    code : str
        See :data:`FitCode`.
    sentence : str
        In words for the pilot, a whole sentence.
    flown : tuple of int
        Places in ``Search.holds`` of those that were cut by it.
    nearest_nm, nearest_s : float or None
        How near the flight came to its fix, and when; None without positions.
    """

    hold: Hold
    code: FitCode
    sentence: str
    flown: tuple[int, ...] = ()
    nearest_nm: float | None = None
    nearest_s: float | None = None


@dataclass(frozen=True)
class Search:
    """What was found in a flight.

    Attributes
    ----------
    holds : tuple of FlownHold
        In time order; no two overlap.
    possible : tuple of PossibleHold
        In time order; none overlaps a hold.
    reasons : tuple of SearchReason
        What was dropped, nearest to a hold first.
    fits : tuple of HoldFit
        One for each given hold, in the order given.
    """

    holds: tuple[FlownHold, ...] = ()
    possible: tuple[PossibleHold, ...] = ()
    reasons: tuple[SearchReason, ...] = ()
    fits: tuple[HoldFit, ...] = ()

    @property
    def nearest_miss(self) -> str | None:
        """Where no hold was found: what came nearest to one, and why it is none."""
        if self.holds:
            return None
        return next((r.sentence for r in self.reasons), NOTHING_LIKE_A_HOLD)


NOTHING_LIKE_A_HOLD = (
    "no two turns of about 180° the same way with a leg between that come back over one point"
)
