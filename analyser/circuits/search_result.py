"""What a search of a flight returns: holds, what may have been one, what was dropped and why, how each file fits."""

from __future__ import annotations

from typing import Literal

from analyser.circuits.flown import FlownHold
from analyser.frozen import dataclass
from analyser.holds.definition import Hold, Turns

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
