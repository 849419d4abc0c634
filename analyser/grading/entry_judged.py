"""A judged entry. Data only."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyser.circuits.flown import Entry, FlownHold
from analyser.circuits.frame import HoldFrame
from analyser.frozen import dataclass
from analyser.grading.score import Score
from analyser.holds.entries import EntryName
from analyser.holds.exact import ExactCircuit
from analyser.rules.flight_test_standard import Standard
from analyser.rules.regime import Regime
from analyser.rules.scoring import Scoring

FloatArray = NDArray[np.float64]
EntryVerdict = Literal["correct", "incorrect", "not judged"]


@dataclass(frozen=True)
class Interception:
    """How the inbound course was met after a parallel or offset entry.

    Attributes
    ----------
    rollout_cross_track_nm : float
        At the end of the turn back, positive right of the course.
    angle_deg : float
        Track against the course there, positive right.
    met_at_nm : float or None
        Distance before the fix from which the track stayed within tolerance; None where it never did.
    """

    rollout_cross_track_nm: float
    angle_deg: float
    met_at_nm: float | None


@dataclass(frozen=True)
class Arrival:
    """Speed on arrival.

    Attributes
    ----------
    speed_at_fix_kt, speed_before_kt : float or None
        Over the fix, and the time of slowing down before it; indicated.
    limit_kias : float
        Maximum holding speed.
    slowed_before_fix_s : float or None
        How long before the fix the speed had come within tolerance of the holding speed to stay;
        0 where it never had, None where the log begins later or has no airspeed.
    verdict : "within", "outside" or "not judged"
        Against the limit, over the fix.
    slow_down : Score or None
        How long before the fix the speed came below the limit to stay, against the time the rules name; None where
        they name none. Points are not given: it is for where notice allows.
    over_limit_s, most_kias : float
        For how long the speed was surely beyond the limit between the fix and the first circuit, and the fastest there.
    """

    speed_at_fix_kt: float | None
    speed_before_kt: float | None
    limit_kias: float
    slowed_before_fix_s: float | None
    verdict: Literal["within", "outside", "not judged"]
    source: str
    slow_down: Score | None = None
    over_limit_s: float = 0.0
    most_kias: float = math.nan


@dataclass(frozen=True)
class JudgedEntry:
    """The judged entry.

    Attributes
    ----------
    sectors_allowed : tuple of str
        The sector the heading lies in first, then a neighbour within the zone of flexibility.
    verdict : "correct", "incorrect" or "not judged"
    recommended : bool
        False where the entry is allowed but another one was recommended.
    angle, time : Score or None
        Of a parallel or offset entry: its track or heading against the rule's, and its outbound time or length.
    off_side_nm : float or None
        Farthest onto the non-holding side between the fix and the first circuit.
    turn_back_deg : float or None
        Heading change of the turn back, positive right.
    turned_away : "parallel", "offset" or None
        The entry that was begun, where it was turned back to the wrong side.
    ideal_east_nm, ideal_north_nm : (n,) float array
        The ideal entry for the sector of the arrival heading; empty where none can be drawn.
    """

    entry: Entry
    sectors_allowed: tuple[EntryName, ...]
    verdict: EntryVerdict
    recommended: bool
    points: float | None
    angle: Score | None
    time: Score | None
    off_side_nm: float | None
    turn_back_deg: float | None
    turn_back_right_way: bool | None
    turned_away: EntryName | None
    interception: Interception | None
    arrival: Arrival
    ideal_east_nm: FloatArray
    ideal_north_nm: FloatArray
    note: str


@dataclass(frozen=True)
class EntryCase:
    """What judging an entry needs.

    Attributes
    ----------
    exact : ExactCircuit or None
        For the wind of the first circuit; None where none closes.
    speed_kt : float
        The holding speed, indicated; NaN where unknown.
    """

    flown: FlownHold
    entry: Entry
    frame: HoldFrame
    exact: ExactCircuit | None
    regime: Regime
    standard: Standard
    scoring: Scoring
    altitude_ft: float
    speed_kt: float
