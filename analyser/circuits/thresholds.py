"""Every threshold of this room, with what it stands for and how it was chosen.

*Swept*: the middle of the range within which the generated flights of :mod:`tests.accuracy` do not change.
*Common practice*: what pilots and instructors take for granted. *Derived*: follows by arithmetic from another value.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class GivenThresholds:
    """Cutting a flight by a given hold."""

    #: Holes of the log up to this are bridged, seconds: a lap and its passages may be told from both sides of it.
    longest_hole_s: float = 240.0
    #: Smoothing of the direction over the ground, seconds: at least this, this share of the sampling interval, and
    #: where positions are joined by chords.
    fine_scale_s: float = 3.0
    scale_share: float = 0.8
    chord_scale_s: float = 10.0
    #: The flight has to come this near to the fix for the hold to be looked for at all, NM (swept: a student who
    #: loses the fix does so by up to 3 NM, and has met it at least once).
    near_nm: float = 3.0
    #: A lap is begun and ended by passing the perpendicular through the fix this near to it, NM …
    gate_nm: float = 3.5
    #: … and at least one passage of a hold is this near, or it was flown round something else.
    met_nm: float = 1.5
    #: The turning that is usual is looked for within this of the fix, NM.
    around_nm: float = 12.0
    #: The wind that tells headings from tracks is taken from within this of the fix, NM, and only where it is less than
    #: this share of the airspeed: else the circle was no good.
    wind_nm: float = 6.0
    strongest_wind_share: float = 0.75
    #: Turning slower than this is the wander of a leg, degrees a second.
    least_rate_dps: float = 0.7
    #: The way leads inbound within this of the course, and outbound within it of the reciprocal, degrees.
    within_deg: float = 65.0
    #: Who turns this early never crosses the perpendicular: so near before the fix counts as passing it, NM.
    early_nm: float = 0.6
    #: A way inbound that is all one turn is part of an orbit where the whole of it turns through this, degrees, at more
    #: than this share of the usual rate; wings level for no longer than the last, seconds, do not end it.
    orbit_deg: tuple[float, float] = (300.0, 430.0)
    orbit_turn_share: float = 0.35
    orbit_pause_s: int = 3
    #: … and which keeps farther from the fix than this, NM, and than this share of its own width: nearer, the two turns
    #: of a lap without legs pass over the fix in one.
    orbit_away_nm: float = 0.25
    orbit_away_share: float = 0.8
    #: … or, where the other passages are better, than this share of its width and so many times their miss.
    orbit_unlike_share: float = 0.2
    orbit_unlike_ratio: float = 3.0
    #: What passes the fix again after less time, seconds, and less turning, degrees, was not round yet.
    shortest_lap_s: int = 60
    shortest_lap_deg: float = 200.0
    #: Longest lap, seconds, and farthest from the fix, NM: a 10 NM leg against a gale fits in; a journey does not.
    longest_lap_s: float = 1200.0
    farthest_nm: float = 22.0
    #: An arrival passes the fix within this, NM (as ``met_nm``).
    arrival_nm: float = 1.5
    #: An entry's leg is no longer than the greater of these: seconds, or so many times the longest outbound leg of the
    #: laps and so many seconds (swept).
    entry_leg_s: float = 170.0
    entry_leg_share: float = 2.0
    entry_leg_more_s: float = 60.0
    #: An entry's leg that leans to the holding side by at least this, degrees, drift allowed for, is an offset entry's:
    #: half way between the reciprocal and 30° (derived).
    offset_lean_deg: float = 15.0
    #: … less where the arrival asks for an offset entry or turned against the hold's hand, more where it asks for a
    #: direct or parallel one: most pilots fly the entry that they should (common practice).
    offset_expected_deg: float = 3.0
    offset_unexpected_deg: float = 5.0
    #: So many times the drift is laid off on an entry's leg by the usual pilot: 0 by who flies headings, 1 by who flies
    #: tracks, up to 3 by who corrects for the turns, too (common practice).
    entry_drift_multiple: float = 1.2
    #: A turn at the fix of less than this, degrees, is no turn of an entry but a correction.
    entry_turn_deg: float = 20.0
    #: A turn the hold's way through more than this from the arrival is a circuit's own, degrees.
    direct_turn_deg: float = 105.0
    #: A lap's straight flying, seconds: less in every lap, and it was orbits over the fix.
    least_straight_s: float = 8.0
    #: Laps that each go down to within this of the ground, feet, and change height by more than the second, are laps
    #: of an aerodrome; the ground is where the log begins or ends no faster than this, knots.
    ground_within_ft: float = 250.0
    ground_dip_ft: float = 500.0
    taxi_kt: float = 35.0
    #: The reciprocal of the file's course is what was flown where the laps pass so far beside the fix, NM, and by the
    #: reciprocal no farther than this share of it.
    reversed_miss_nm: float = 0.6
    reversed_share: float = 0.4
    #: The last way back misses the fix by more than this, NM, and by so many times the usual miss; or it leads past the
    #: fix so far off the course, degrees, and so far beside it: then the hold was left in that lap.
    left_nm: float = 0.7
    left_ratio: float = 5.0
    left_deg: float = 50.0
    left_astray_nm: float = 0.5
    #: A passage beyond this is told, NM: the pilot lost the fix.
    lost_nm: float = 1.5
    #: A leg of less than this is none, seconds: roll-out and roll-in touch.
    no_leg_s: float = 4.0
    #: Of several given holds the one is taken for which most speaks: one point for each lap, one for each passage,
    #: which is halved by so much beside the fix, NM; one off for the course met so far beside the file's, degrees,
    #: and these for the other hand. Within the last of the best, another fits as well.
    near_evidence_nm: float = 0.4
    course_evidence_deg: float = 20.0
    hand_evidence: float = 1.5
    alike_evidence: float = 0.4
    #: A lap broken off was begun no later than this after the fix, seconds, by a turn of more than so much, degrees,
    #: and led outbound, within so much of the reciprocal, for so long at least; it is followed no longer than the
    #: first.
    broken_s: int = 420
    broken_begun_s: int = 60
    broken_turn_deg: float = 85.0
    broken_within_deg: float = 55.0
    broken_stays_s: int = 6


GIVEN = GivenThresholds()


@dataclass(frozen=True)
class PhaseThresholds:
    """Explaining a lap as turn, leg, turn, leg. Fits are counted in seconds of clear turning."""

    #: A second is as much turn as leg at this share of the usual rate (as half of a turn's bank); so much more or less
    #: and it counts fully …
    turn_share: float = 0.4
    turn_slope: float = 0.25
    #: … but no second for more than this.
    most: float = 1.5
    #: A second of a leg that leads farther from its direction than this, degrees, speaks against it by so much.
    leg_within_deg: float = 80.0
    astray: float = 0.4
    #: A turn that has passed the outbound direction by so much speaks against being the outbound turn, and one that
    #: has not come so near to it against being the inbound turn.
    passed_deg: float = 35.0
    passed: float = 0.5
    #: The other hand has to explain better by this to be taken, for each turn.
    other_hand: float = 12.0
    #: A whole circle turns through at least this …
    orbit_deg: float = 310.0
    #: … and on an inbound leg comes after this much turning of the lap.
    orbit_after_deg: float = 120.0
    #: Wings level for no longer than this, seconds, do not end a circle.
    pause_s: float = 3.0


PHASES = PhaseThresholds()


@dataclass(frozen=True)
class LoopThresholds:
    """Coming back over one point, where no racetrack was seen."""

    #: The flight is looked at every so many seconds.
    step_s: int = 4
    #: Once round takes between these, seconds.
    shortest_s: int = 60
    longest_s: int = 900
    #: Once round is 360°: less where the way in came from the side, more where the course was met late, degrees …
    round_deg: tuple[float, float] = (235.0, 440.0)
    #: … and comes back so near, NM, and no farther than this share of how far away it went.
    near_nm: float = 2.0
    near_share: float = 0.75
    #: Slower than this over the ground is no flying, knots.
    slowest_kt: float = 35.0
    #: A way round is circling where it is quicker than this, seconds, with less than this share of it straight; or with
    #: hardly anything straight at all. Straight is what turns less than so much of the usual rate.
    circling_s: float = 78.0
    circling_share: float = 0.5
    least_straight_share: float = 0.05
    straight_rate_share: float = 0.4
    #: Circles are spoken of where there are no more than so many in a flight and nothing else: a pilot who lost his
    #: legs holds so, one who circles for climb or practice does it again and again.
    most_circling: int = 2
    #: Ways round that change height by more than this, feet, and come back to it within the second, are laps of an
    #: aerodrome or of an approach.
    dip_ft: float = 900.0
    dip_back_ft: float = 250.0
    #: A flight that came round to so many other places draws laps for some other reason: a lone one of them is doubted.
    many_loops: int = 3
    #: A hypothesis of the fix lies where the way was straight for so long, seconds, within so much, degrees, and turns
    #: by the third within the fourth; one is tried every so many seconds.
    straight_before_s: int = 12
    straight_deg: float = 12.0
    turn_deg: float = 25.0
    turn_within_s: int = 20
    hypothesis_step_s: int = 6
    #: A loop is plainly a hold where its laps pass within this of the fix, NM, and this of the course, degrees, with
    #: legs of this much together, seconds; no lap lasts so many times another, the speed over the ground changes by no
    #: more than so many times (wind included), and no lap goes down by so much, feet, and up again.
    plain_miss_nm: float = 0.45
    plain_course_deg: float = 25.0
    plain_legs_s: int = 25
    plain_lap_ratio: float = 1.9
    plain_speed_ratio: float = 2.2
    plain_dip_ft: float = 350.0


LOOPS = LoopThresholds()


@dataclass(frozen=True)
class RejectionThresholds:
    """What speaks against a racetrack that was found by its shape. All swept, but for those that say otherwise."""

    #: A hold is level, or goes one way (down a stack, up a shuttle). Down this much and up again, feet, is a circuit
    #: round an aerodrome or an approach flown over …
    sawtooth_ft: float = 420.0
    #: … unless the height only wanders: less than this, and its lows unlike by more than the second.
    wander_ft: float = 900.0
    lows_alike_ft: float = 60.0
    #: The height is looked at this long before and after the laps too, seconds, for a landing may lie just there.
    around_s: int = 45
    #: Longer legs than these, averaged over a lap, belong to a journey or a survey, seconds: with the height known to
    #: be held, and without …
    longest_leg_s: float = 330.0
    longest_leg_blind_s: float = 200.0
    #: … unless they are no longer than this over the ground, NM: against a gale a minute's leg takes many.
    slow_leg_nm: float = 5.0
    #: Legs that last longer than this on average are no timed hold's, seconds (a minute and a half, flown half as long
    #: again); a distance leg's are alike, within this share of their length.
    timed_leg_s: float = 140.0
    unlike_legs_share: float = 0.1
    #: From this share of the airspeed up, a wind can leave a leg no time at all (derived: the exact circuit).
    strong_wind_share: float = 0.22
    #: Both legs of a lap together, seconds: less, and it is an orbit; one lap alone has to show more of them. The
    #: shortest legs that are taught are half a minute each (common practice), and smoothing takes some seconds off.
    shortest_legs_s: float = 22.0
    shortest_lone_legs_s: float = 40.0
    #: The way along a leg swings through less than this, correction and late meeting of the course included, degrees;
    #: so close to its ends it may still be turning, seconds.
    leg_swing_deg: float = 75.0
    leg_end_s: int = 4
    #: Steeper turning than this is airwork, degrees of bank (steep turns are taught at 45° to 50°: common practice).
    steepest_bank_deg: float = 50.0
    #: Laps whose fixes march on by more than this each time, NM, all one way, are lines of a survey …
    march_nm: float = 0.07
    #: … two laps do where the legs are longer than the second of these, seconds, for then they are no timed hold's;
    #: one lap more is needed below each.
    survey_legs_s: tuple[float, float] = (110.0, 150.0)
    #: Laps whose fixes march on by so much each time, NM, every step like the mean one within this share of it, have no
    #: fix at all, whichever way they march; of one step it takes the second.
    no_fix_nm: float = 0.5
    no_fix_one_step_nm: float = 0.8
    no_fix_alike: float = 0.5
    #: Speed over the laps, quickest to slowest, wind allowed for: a hold is flown at one speed.
    speed_ratio: float = 1.75
    #: Without heights: so much change of ground speed along a straight leg is a landing's.
    leg_speed_share_blind: float = 0.27
    #: One lap alone comes back within this distance of its beginning, NM, or this share of its width; where its first
    #: turn is no half circle, as where a way from the side was met late, or fixes are sparse, within the third …
    miss_nm: float = 0.3
    miss_share: float = 0.35
    rough_miss_nm: float = 0.5
    #: … which is looked for so long after it was passed, seconds.
    met_late_s: int = 45
    #: Its turns are made at much the same rate, and at no more than half again rate one, degrees of track a second.
    most_rate_dps: float = 4.5
    most_rate_ratio: float = 2.0
    #: One that begins with less than half a circle, as a direct entry from the side does, has to look like a hold in
    #: all else: legs between these, seconds, and this much change of height at most, feet …
    lone_leg_s: tuple[float, float] = (12.0, 150.0)
    lone_height_ft: float = 350.0
    #: … or, where the log has no height, to come back as near as this, NM.
    blind_miss_nm: float = 0.2
    #: Nothing is told of a way that moves for less than this, seconds; and slower over the ground than this, knots, in
    #: a gale, a track swings with every breath.
    shortest_swing_s: int = 8
    slow_kt: float = 30.0
    #: A turn pauses where its rate falls below this share of the usual for so long, seconds; that can be seen at no
    #: coarser smoothing than this, seconds.
    pause_share: float = 0.3
    pause_s: int = 4
    fine_scale_s: float = 6.0


REJECTION = RejectionThresholds()


@dataclass(frozen=True)
class PossibleThresholds:
    """What is shown as perhaps a hold."""

    #: Positions farther apart than this, seconds, are too coarse to tell a turn from a leg: half a rate-one turn.
    coarse_s: float = 15.0
    #: Smoothing of the direction over the ground, seconds: at least this, and this share of the sampling interval.
    fine_scale_s: float = 3.0
    scale_share: float = 0.8
    #: A log that ends no later than this after a first turn, seconds, may have ended before the second (a leg of a
    #: minute and a half, and half as long again).
    ends_within_s: float = 140.0


POSSIBLE = PossibleThresholds()
