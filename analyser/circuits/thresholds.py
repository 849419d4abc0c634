"""Every threshold of this room, with what it stands for and how it was chosen.

*Swept*: the middle of the range within which the generated flights of :mod:`tests.accuracy` do not change.
*Common practice*: what pilots and instructors take for granted. *Derived*: follows by arithmetic from another value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from analyser.frozen import dataclass


@dataclass(frozen=True)
class GivenThresholds:
    """Cutting a flight by a given hold."""

    #: Holes of the log up to this are bridged, seconds: a lap and its passages may be told from both sides of it.
    longest_hole_s: float = 240.0
    #: Of a hole is spoken from this up, seconds, and from three sampling intervals.
    least_hole_s: float = 15.0
    #: Smoothing of the direction over the ground, seconds: at least this, this share of the sampling interval, and
    #: where positions are joined by chords.
    fine_scale_s: float = 3.0
    scale_share: float = 0.8
    chord_scale_s: float = 10.0
    #: The flight has to come this near to the fix for the hold to be looked for at all, NM (swept: a student who
    #: loses the fix does so by up to 3 NM, and has met it at least once).
    near_nm: float = 3.0
    #: A lap is begun and ended by passing the perpendicular through the fix this near to it, NM …
    gate_nm: float = 10.0
    #: … and at least one passage of a hold is this near, or it was flown round something else.
    met_nm: float = 1.5
    #: The turning that is usual is looked for within this of the fix, NM.
    around_nm: float = 12.0
    #: The wind that tells headings from tracks is taken from within this of the fix, NM, and only where it is less
    #: than this share of the airspeed: else the circle was no good.
    wind_nm: float = 6.0
    strongest_wind_share: float = 0.75
    #: Turning slower than this is the wander of a leg, degrees a second.
    least_rate_dps: float = 0.7
    #: The way leads inbound within this of the course, and outbound within it of the reciprocal, degrees.
    within_deg: float = 65.0
    #: Who turns this early never crosses the perpendicular: so near before the fix counts as passing it, NM.
    early_nm: float = 0.6
    #: A way inbound that is all one turn is part of an orbit where the whole of it turns through this, degrees, at
    #: more than this share of the usual rate; wings level for no longer than the last, seconds, do not end it.
    orbit_deg: tuple[float, float] = (300.0, 430.0)
    orbit_turn_share: float = 0.35
    orbit_pause_s: int = 3
    #: … and which turns for at least this share of its time (swept).
    circle_turning_share: float = 0.85
    #: Between two turns the wings come level, or nearly: as much speaks for two turns as for one circle where the
    #: slowest turning is this share of the usual, and one more, as a log of odds, for each so much less, up to the
    #: last (weak students, seeds 43 to 46: 0 to 0.34 between turns, 0.33 to 1.2 within circles).
    circle_slowest: float = 0.41
    circle_slowest_slope: float = 0.08
    circle_steady_most: float = 3.0
    #: A circle that passes farther from the fix than who lost it is told of (``lost_nm``) seldom ends a lap: so much
    #: less (seeds 0 to 12: one lap in twenty-five ends there, and half of the circles within legs pass there).
    circle_lost_odds: float = 2.5
    #: A circle from the fix back to the fix, so steady, is no lap where others are: one that ends so shortly before the
    #: fix has no leg, seconds.
    circle_sure_odds: float = -2.5
    circle_leg_s: int = 6
    #: … and takes less than this share of the time of a lap (a lap with two legs of half a minute, the shortest that
    #: are taught, takes half as long again as its turns).
    circle_time_share: float = 0.67
    #: Over the fix itself two turns may run into each other: this much more speaks for them, as a log of odds, falling
    #: with how far beside the fix the circle passes, one sigma as a share of its width. A circle that never crosses the
    #: perpendicular through the fix ends no lap: so much less.
    circle_met_odds: float = 2.5
    circle_miss_share: float = 0.25
    circle_short_odds: float = 4.0
    #: One pilot's laps take about as long, give or take one of these shares, one sigma, but for those that something
    #: befell, which speak against it by no more than the second; so many circles within one lap are thought of, and so
    #: many usual times of a lap.
    rhythm_sd: tuple[float, float] = (0.09, 0.18)
    rhythm_most: float = 3.0
    most_circles: int = 3
    rhythm_times: int = 24
    #: What passes the fix again after less time, seconds, and less turning, degrees, was not round yet.
    shortest_lap_s: int = 60
    shortest_lap_deg: float = 200.0
    #: … nor was what met the perpendicular again in the turn begun over the fix: within so many seconds, no whole
    #: circle by then, degrees, and level for no longer than it takes to begin a turn late, seconds.
    same_turn_s: int = 150
    same_turn_deg: float = 300.0
    same_turn_level_s: int = 15
    #: Longest lap, seconds, and farthest from the fix, NM: a 10 NM leg against a gale fits in; a journey does not.
    longest_lap_s: float = 1200.0
    farthest_nm: float = 22.0
    #: A lap that lasts so many times the others, and of which no turn and no leg explains more than so many seconds,
    #: was a journey: the hold was left and joined again (of 800 laps of weak students, seeds 43 to 45, one in a
    #: hundred has more than 41 such seconds).
    journey_ratio: float = 1.6
    journey_s: int = 120
    #: … and a lone lap that leaves so many unexplained was no lap: it went round something else (no lone lap of weak
    #: students, seeds 60 and 61, leaves more than 40).
    lone_journey_s: int = 200
    #: An arrival passes the fix within this, NM (as ``met_nm``).
    arrival_nm: float = 1.5
    #: … and is seen from so long before, seconds.
    seen_arriving_s: int = 10
    #: … and before it the log shows an arrival, unless it begins so near where the laps are as long before the fix, NM;
    #: on the inbound leg, where an arrival from straight ahead is, too, only so shortly before it, seconds.
    begun_apart_nm: float = 1.0
    begun_inbound_s: int = 30
    #: One that crosses the perpendicular beside the fix and then comes nearer than this share of that met it there.
    nearer_share: float = 0.5
    #: Between two visits to the fix the distance grows and falls again by this much, NM.
    between_visits_nm: float = 0.3
    #: An entry's leg is no longer than the greater of these: seconds, or so many times the longest outbound leg of
    #: the laps and so many seconds (swept).
    entry_leg_s: float = 155.0
    entry_leg_share: float = 2.0
    entry_leg_more_s: float = 45.0
    #: … or, where the heading over a given fix asks for that entry, than this, seconds: a leg that
    #: was forgotten.
    asked_leg_s: float = 300.0
    #: A turn at the fix of less than this, degrees, is no turn of an entry but a correction.
    entry_turn_deg: float = 20.0
    #: Laps that each go down to within this of the ground, feet, and change height by more than the second, are laps
    #: of an aerodrome; the ground is where the log begins or ends no faster than this, knots.
    ground_within_ft: float = 250.0
    ground_dip_ft: float = 500.0
    taxi_kt: float = 35.0
    #: The reciprocal of the file's course is what was flown where the laps pass so far beside the fix, NM, and by the
    #: reciprocal no farther than this share of it, and than the third, NM; and where every lap passes alike: the
    #: nearest no nearer than this share of the farthest.
    reversed_miss_nm: float = 0.6
    reversed_share: float = 0.4
    reversed_met_nm: float = 0.3
    reversed_alike: float = 0.7
    #: … and was flown in so many laps at least: one lap flown wide passes the fix by its outbound leg as well …
    reversed_laps: int = 2
    #: … and it was passed on a leg: within so many seconds before, the way turned by less than so much, degrees.
    reversed_leg_s: int = 15
    #: … and has legs that are no shorter than this share of those that the file's course shows: a hold has both.
    reversed_legs_share: float = 0.5
    reversed_leg_deg: float = 30.0
    #: The lap that leads the other way round, between the same turns, is said to be another hold only if so many were
    #: flown whole: one lap is as well parts of two laps of the file's, where the log begins or ends within one
    #: (derived: between two whole laps at the other end lies a whole one of the file's, which then shows which it was).
    other_end_laps: int = 2
    #: A hold flown at the fix of a file that was not taken has another course from so many degrees off up, and the
    #: reciprocal from so many.
    another_course_deg: float = 10.0
    reversed_from_deg: float = 150.0
    #: So many laps that by themselves fit a course farther off the given one than this, degrees, and surely so, by so
    #: many sigmas, ask whether the file is right: 5° is what a course may be missed by.
    doubt_laps: int = 2
    doubt_course_deg: float = 5.0
    doubt_sigmas: float = 3.0
    #: … and so do laps that fit a fix this far off the given one, NM (half a minute of flight at 90 kt), where the
    #: arrival, so many seconds before and after it met the given fix, came nearer to theirs by this share.
    doubt_fix_nm: float = 0.75
    doubt_arrival_s: float = 90.0
    doubt_arrival_share: float = 0.5
    #: The last way back leads straight across the course, so many degrees off it, for so long, seconds, or its turn was
    #: made with the other hand and through less than this, degrees; and it passes the fix beyond this, NM: then the
    #: hold was left in that lap.
    left_deg: tuple[float, float] = (50.0, 125.0)
    left_across_s: int = 4
    left_turn_deg: float = 120.0
    left_nm: float = 0.3
    #: … and farther than every passage before; or it leads straight past it, turning by less than so much, degrees, so
    #: many times farther than any passage before: who has met the fix so well each time was not on his way to it.
    left_straight_deg: float = 10.0
    left_unlike: float = 5.0
    #: A lap was left, and the hold joined again, where its way out led so across for so long, seconds, and so far away
    #: from the course, NM; or for so much longer, seconds: a turn with a pause leads across for less.
    left_away_s: int = 25
    left_away_nm: float = 0.5
    left_for_s: int = 60
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
    #: A lap broken off was begun no later than this after the fix, seconds, by a turn of more than so much, degrees (by
    #: heading and over the ground: a turn away to the side is less), or where the laps' own outbound turns are less, of
    #: no less than they by the second and than the third; with the other hand of more than the fourth; and led
    #: outbound, within so much of the reciprocal, for so long at least; it is followed no longer than the first.
    broken_s: int = 420
    broken_begun_s: int = 60
    broken_turn_deg: float = 92.0
    broken_own_deg: float = 20.0
    broken_least_deg: float = 60.0
    broken_other_hand_deg: float = 150.0
    broken_within_deg: float = 45.0
    broken_stays_s: int = 6


GIVEN = GivenThresholds()


@dataclass(frozen=True)
class EntryThresholds:
    """Which entry was flown."""

    #: The heading over the fix is read just before it, so that the turn has not begun: seconds before.
    heading_from_s: float = 7.0
    heading_to_s: float = 2.0
    #: The sectors: headings so far short of the outbound course, towards the holding side, ask for an offset entry, and
    #: so far beyond it for a parallel one (US Navy P-821, fig. 3-8; AIM 5-3-8). Within 5° of a border either is right,
    #: and the heading itself is known no better, one sigma, degrees.
    offset_to_deg: float = 70.0
    parallel_to_deg: float = 110.0
    sector_sd_deg: float = 5.0
    #: How usual each entry is from each sector (common practice: most pilots fly the right one; a learner's wrong one
    #: may be any; an offset entry from the direct sector hardly differs from a lap with a narrow outbound leg).
    usual: Mapping[str, Mapping[str, float]] = field(
        default_factory=lambda: {
            "offset": {"offset": 0.68, "direct": 0.12, "parallel": 0.12, "other": 0.08},
            "parallel": {"offset": 0.1, "direct": 0.12, "parallel": 0.75, "other": 0.03},
            "direct": {"offset": 0.015, "direct": 0.9, "parallel": 0.08, "other": 0.005},
        }
    )
    #: The courses that an inferred hold may have are tried so many sigmas off.
    course_off_sd: tuple[float, ...] = (-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    #: So many of those who come to a hold fly its entry and no lap.
    entry_alone: float = 0.05
    #: The hand of a turn back is misread so often; where the log hides it, it is any.
    hand_misread: float = 0.003
    #: A lap begins with a turn against the hold's hand through more than this, degrees, so rarely.
    against_deg: float = 60.0
    lap_against: float = 0.03
    #: An offset entry's leg leads so far to the holding side of the reciprocal; what neither by heading nor over the
    #: ground leans by the second, half of it (derived), was none, unless the rest of it says so.
    offset_deg: float = 30.0
    offset_lean_deg: float = 15.0
    #: One that leads off by less has to be this much likelier than a direct entry, as a difference of log odds.
    unled_offset_odds: float = 1.0
    #: An offset entry and a first lap that differ by less, as log odds (seven to one, common practice), may be either.
    unsure_odds: float = 2.0
    #: What is laid off for the drift is so many times the drift itself, up to so much, degrees: none by who flies
    #: headings, the drift by who flies tracks, up to the triple by who corrects for the turns, too (common practice).
    drift_multiples: tuple[float, ...] = tuple(0.25 * quarter for quarter in range(13))
    usual_multiple: float = 1.2
    multiple_sd: float = 0.9
    most_laid_off_deg: float = 50.0
    #: An offset entry's 30° are a heading (AIM 5-3-8) or a track (Doc 8168), whatever is laid off on the laps, for this
    #: share of pilots; the others lay off what they lay off there.
    as_taught: float = 0.5
    #: A learner's heading differs from the one meant by this sigma, degrees (common practice); a leg of so long at
    #: least, seconds, tells it; and so often, for each leg, it differs for no reason that is known.
    leg_heading_sd_deg: float = 8.0
    leg_told_s: int = 12
    stray_leg: float = 0.01


ENTRY = EntryThresholds()


@dataclass(frozen=True)
class PhaseThresholds:
    """Explaining a lap as turn, leg, turn, leg. Fits are counted in seconds of clear turning."""

    #: A second is as much turn as leg at this share of the usual rate (as half of a turn's bank); so much more or
    #: less and it counts fully …
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
    #: A lap's only turn is both its turns, flown as one, where it leads on past the outbound course by more than this,
    #: degrees: nobody lays off so much for the drift.
    past_outbound_deg: float = 60.0
    #: … and its second is both where it turns through more than this (derived: half way from 180° to 360°), and less
    #: than the other, degrees, was turned in the first: a correction, as ``least_change_deg`` has it.
    both_turns_deg: float = 270.0
    no_turn_deg: float = 35.0
    #: Who flies on over the fix for longer than this, seconds, was not only late to turn (procedure designers allow 6 s
    #: of reaction and 5 s of roll, Doc 8168 Vol II; this is many times more).
    late_s: int = 30
    #: The other hand has to explain better by this to be taken, for each turn.
    other_hand: float = 12.0
    #: A whole circle turns through at least this …
    orbit_deg: float = 310.0
    #: … and turning through so much more than whole circles is a turn of the lap that runs on into them (half of 180°).
    turn_before_circle_deg: float = 90.0
    #: … and on an inbound leg comes after this much turning of the lap.
    orbit_after_deg: float = 120.0
    #: Wings level for no longer than it takes to turn through this at the usual rate, degrees, do not end a circle: who
    #: banks little rolls slowly, and is level the longer for one unsteady movement.
    pause_deg: float = 12.0
    #: A second within a hole of the log says so much of what another says: the way there is a guess.
    unseen: float = 0.5


PHASES = PhaseThresholds()


@dataclass(frozen=True)
class LoopThresholds:
    """Coming back over one point, where no racetrack was seen, and what is shown as perhaps a hold."""

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
    #: A way round is circling where it is quicker than this, seconds, with less than this share of it straight; or
    #: with hardly anything straight at all. Straight is what turns less than so much of the usual rate.
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
    #: A flight that came round to so many other places draws laps for some other reason: a lone one of them is
    #: doubted.
    many_loops: int = 3
    #: A hypothesis of the fix lies where the way was straight for so long, seconds, within so much, degrees, and
    #: turns by the third within the fourth; one is tried every so many seconds.
    straight_before_s: int = 12
    straight_deg: float = 12.0
    turn_deg: float = 25.0
    turn_within_s: int = 20
    hypothesis_step_s: int = 6
    #: A loop is plainly a hold where its laps pass within this of the fix, NM, and this of the course, degrees,
    #: with legs of this much together, seconds; no lap lasts so many times another, and the speed over the ground
    #: changes by no more than so many times (wind included).
    plain_miss_nm: float = 0.45
    plain_course_deg: float = 25.0
    plain_legs_s: int = 25
    plain_lap_ratio: float = 1.9
    plain_speed_ratio: float = 2.2
    #: Positions farther apart than this, seconds, are too coarse to tell a turn from a leg: half a rate-one turn.
    coarse_s: float = 15.0
    #: A log that ends no later than this after a first turn, seconds, may have ended before the second (a leg of a
    #: minute and a half, and half as long again).
    ends_within_s: float = 140.0

    #: A lap of which more than this share is known to be something else is that.
    known_share: float = 0.5


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
    #: Legs that last longer than this on average are no timed hold's, seconds (a minute and a half, flown half as
    #: long again); a distance leg's are alike, within this share of their length.
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
    #: Where both turns of a lap go through more than this, degrees, the way turned away before each of them and came
    #: back on its own line (derived: 180° and most of the 45° of a procedure turn).
    reversal_deg: float = 210.0
    #: Laps whose fixes march on by more than this each time, NM, all one way, are lines of a survey …
    march_nm: float = 0.07
    #: … two laps do where the legs are longer than the second of these, seconds, for then they are no timed hold's;
    #: one lap more is needed below each.
    survey_legs_s: tuple[float, float] = (110.0, 150.0)
    #: Laps whose fixes march on by so much each time, NM, every step like the mean one within this share of it,
    #: have no fix at all, whichever way they march; of one step it takes the second.
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
    #: Nothing is told of a way that moves for less than this, seconds; and slower over the ground than this, knots,
    #: in a gale, a track swings with every breath.
    shortest_swing_s: int = 8
    slow_kt: float = 30.0
    #: A turn pauses where its rate falls below this share of the usual for so long, seconds; that can be seen at no
    #: coarser smoothing than this, seconds.
    pause_share: float = 0.3
    pause_s: int = 4
    fine_scale_s: float = 6.0


REJECTION = RejectionThresholds()


@dataclass(frozen=True)
class RacetrackThresholds:
    """Racetracks found by their shape: runs of turning, chains of turns, laps, which laps belong together."""

    # Runs of turning in a survey.
    #: Slower than this is no turn but the wander of a leg; 25° of bank at 450 kt still turns at 1.1°/s.
    slowest_turn_dps: float = 0.55
    #: A turn is where the rate is above this share of the rate that is usual around it.
    edge_share: float = 0.3
    #: Pieces of one turn closer together than this are one turn: nobody times a leg that short.
    join_s: float = 9.0
    #: Less heading change than this is a correction, not a turn.
    least_change_deg: float = 35.0
    #: A whole circle, measured over the ground.
    least_circle_deg: float = 310.0
    most_circle_deg: float = 410.0
    # Turns of one hand that follow each other.
    #: The first turn of a direct entry from the edge of its sector is less: 70 degrees, and drift.
    least_first_turn_deg: float = 55.0
    #: Who joins directly from another sector turns nearly a whole circle first.
    most_first_turn_deg: float = 330.0
    #: No leg is shorter, or it is an orbit; none longer, or it is a journey.
    shortest_leg_s: float = 6.0
    longest_leg_s: float = 780.0
    longest_first_leg_s: int = 200
    #: A correction the other way within a leg, an over-shot course regained, does not end a chain.
    largest_correction_deg: float = 75.0
    # Laps.
    #: A hold's turn is half a circle, give or take the drift corrections of both legs in a strong wind.
    least_turn_deg: float = 100.0
    most_turn_deg: float = 262.0
    #: An outbound turn of more than this began as the end of meeting the course, so not over the fix.
    merged_turn_deg: float = 205.0
    #: Who joins from the side may fly on over the fix this long before turning, seconds.
    late_turn_s: int = 60
    #: A lap comes back to its beginning within this distance, or within this share of its turn's diameter.
    closing_nm: float = 1.0
    closing_share: float = 0.5
    # Which laps come back over their beginning, and which of them belong to one hold.
    #: Whoever is away from the fix for longer after an inbound turn, seconds, has left.
    longest_last_leg_s: float = 600.0
    #: An entry's last turn is no longer before the first lap than this, seconds, or than a lap's legs and turn.
    longest_way_in_s: float = 200.0
    #: Laps of one hold begin within this share of the closing distance of each other and come back within this angle
    #: of one course, or within the wider one where they begin at one point.
    fix_apart_share: float = 1.6
    course_apart_deg: float = 40.0
    late_met_deg: float = 75.0
    #: A last lap that misses the fix by more than this, and by so many times the others' usual miss, was left.
    left_miss_nm: float = 0.7
    left_miss_ratio: float = 5.0
    #: Between laps of one hold, one may be flown so badly that it misses by this many times the tolerance.
    odd_one_ratio: float = 2.5
    # Which readings are kept.
    #: Smoothing scales, seconds, finest first; the coarse ones are for positions joined by chords.
    scales_s: tuple[float, float] = (3.0, 6.0)
    chord_scales_s: tuple[float, float] = (10.0, 14.0)
    #: A lap is a parallel entry if its second turn is longer by this much, and a hold of the other hand begins
    #: within this time and distance of its end.
    parallel_lopsided_deg: float = 40.0
    parallel_follows_s: float = 75.0
    parallel_near_nm: float = 3.5
    #: A turn of which this much is flown in impossible corners comes from chords.
    corner_bank_deg: float = 42.0
    #: … and a corner is over within this, seconds: who circles steeply goes on doing so.
    corner_s: int = 8
    corner_share: float = 0.25


RACETRACK = RacetrackThresholds()


@dataclass(frozen=True)
class CandidateScoringThresholds:
    """What speaks for one reading of a chain of turns against the other."""

    #: Nothing is said of an arrival that the log has less of than this, seconds.
    log_begins_s: int = 20
    #: An offset entry meets the fix within this distance.
    offset_met_nm: float = 0.6
    #: … and its leg leads to the holding side of the outbound course, negative here, or it is a lap's own.
    offset_least_lean_deg: float = -5.0
    #: A lap speaks for its fix with so many points; that it comes back near it makes up this share of them, and half
    #: of that share if it misses by this much of the tolerance.
    lap_points: float = 1.6
    close_share: float = 0.75
    half_miss_share: float = 0.3
    #: A parallel entry's turn back, of the other hand, ends so long before the first lap at most; the fix was
    #: passed so long before it at most, and the leg between leads within this of the outbound course.
    parallel_back_s: int = 240
    parallel_leg_s: int = 240
    parallel_within_deg: float = 60.0
    #: Joined directly: arriving so much to the left and to the right of the course, seen from a right-hand hold,
    #: with a good margin for drift and a course not well known yet.
    direct_from_deg: float = -90.0
    direct_to_deg: float = 130.0


SCORING = CandidateScoringThresholds()


@dataclass(frozen=True)
class EndThresholds:
    """Which end of a racetrack is the fix."""

    #: Weights of what tells it, as log odds: points for the laps, the arrival and the departure; how closely along
    #: the course the turns begin (log ratio of the squared scatter of the two ends); how much more the one leg is
    #: corrected than the other (log ratio of turning); how much nearer to a minute the one leg is than the other (log
    #: ratio); and how much nearer the arrival led to the one end (log ratio of the squared distance). A logistic
    #: regression over generated flights (courses, students, main and instrument, seeds 60 to 62 and 200), with less
    #: weight than it finds for the departure, which invented pilots always make over the fix, and for the legs.
    weights: tuple[float, ...] = (0.8, 0.3, 0.7, 0.6, 1.2, 1.2, 0.4)
    #: No one of them tells more than this, in its own measure: autopilots correct no leg.
    most: tuple[float, ...] = (6.0, 6.0, 6.0, 4.0, 2.0, 1.4, 4.0)
    #: Scatter and turning that nobody is without, NM and degrees a second.
    scatter_nm: float = 0.05
    dps: float = 0.1
    #: The arrival is looked at for so long before the first turn and until it has begun, seconds; but no longer than it
    #: takes to pass the end that it met first: as near as this, NM, and for so long, seconds.
    arrival_s: int = 360
    arrival_ends_s: int = 5
    #: A log that begins later than this before the first turn, seconds, may begin within a lap: it tells no arrival.
    least_arrival_s: int = 120
    arrival_met_nm: float = 0.35
    arrival_passes_s: int = 12
    #: Nobody passes a fix nearer than this, NM.
    arrival_nm: float = 0.15
    #: A leg of twice or half a minute was not timed to be one, as a logarithm.
    most_off_the_minute: float = 0.7
    #: So many turns beyond the first at either end tell their scatter fully.
    scatter_tells: float = 2.0
    #: A leg's turning is looked at without its ends and its quickest swings, where so much of it is left, seconds.
    leg_ends_s: tuple[int, int] = (5, 4)
    smoothed_s: int = 5
    shortest_leg_s: int = 8
    #: Chance of the other end where whole circles were taken apart and read one way only: nearly even.
    halved_chance: float = 0.3
    #: The other end is spoken of from this chance up (derived: what lies beyond two sigmas).
    open_chance: float = 0.046


ENDS = EndThresholds()


@dataclass(frozen=True)
class TurnDetectionThresholds:
    """Turns cut at their roll events."""

    #: "Leaving level" is the passing of this bank: a wing is never quite still.
    level_bank_deg: float = 2.0
    #: A turn is on while the bank is above this share of what it is in the middle of the turn …
    on_share: float = 0.42
    #: … which is never taken to be below this.
    least_on_deg: float = 3.5
    #: Same-handed pieces closer than this, seconds, may be one turn.
    join_s: float = 8.0
    #: Usual roll rate, common practice; what the roll is taken to have lasted where the sampling hides it.
    roll_rate_dps: float = 5.0
    #: A bank's swings go on for so long, seconds, and this share of them is lost between samples and to the
    #: smoothing.
    swing_s: float = 4.0
    swing_share: float = 0.25
    #: By so many times what swings leave open may the middle half of a turn differ from the whole before it counts.
    by_and_by_swings: float = 5.0
    #: No mean bank is known better than this, degrees: the ball of a real aircraft is a little off its middle in every
    #: turn alike (on the flights of aircraft models by a tenth of a degree and more of bank).
    least_bank_sd_deg: float = 0.09
    #: A hole in the established part adds to that, degrees, by the share of the part that it takes: swept on turns with
    #: holes in up to six tenths of them; who was not seen for the whole turn is not known.
    hole_bank_sd_deg: tuple[tuple[float, float], ...] = ((0.0, 0.0), (0.6, 0.42), (1.0, 8.0))
    #: A turn seen roughly is looked for so long before and after, seconds, at no bank below this, degrees; gaps in
    #: it are closed where the bank stays above this share of the turn's.
    around_span_s: float = 18.0
    least_span_on_deg: float = 2.6
    piece_gap_share: float = 0.25
    #: Wings level within this of a leg's direction end the turn towards it, degrees; and so do wings level for so
    #: long, seconds, once it is most of a half circle.
    on_leg_deg: float = 50.0
    level_s: float = 4.0
    #: Wings that came nearer to level than this between two pieces of turning were level for a moment: the estimate
    #: of the bank fills so short a dip.
    level_gap_deg: float = 3.5
    #: … for a moment of two seconds, nearer than this share of the bank that closes a gap.
    level_moment_share: float = 0.8
    #: Pieces of one turn with less than this between them are put together where the survey saw one turn.
    pause_s: float = 25.0
    #: What is left of a turn without its corrections turns through at least this.
    least_rest_deg: float = 125.0
    #: A half circle's own ends may differ from the turn's by this much before the turn is cut there.
    circle_slack_s: float = 12.0
    #: Sigma of an instant that lies in a hole of the log, seconds.
    hole_sd_s: float = 6.0
    #: … or by this share of the hole, where that is more; so near beside one, seconds, the turn may as well be in it.
    hole_sd_share: float = 0.15
    hole_reach_s: float = 6.0
    #: The mean bank of a turn whose beginning or end was not seen is known to this share of itself, times the share of
    #: the turn that lies in the hole: when it was rolled, and with it the rate, nobody knows. (Both swept on turns with
    #: holes of 30 to 100 s.)
    hole_bank_share: float = 0.3


DETECTION = TurnDetectionThresholds()


@dataclass(frozen=True)
class CircuitCuttingThresholds:
    """Laps cut into circuits, how much is measured with them, and what is worth a word."""

    #: A turn that began this long before the fix, and goes on past it, was begun to meet the course.
    still_turning_s: float = 8.0
    #: A passage seen roughly is looked for so long before and after, seconds.
    passing_s: float = 12.0
    #: Wings level is not heading steady: this much of a leg's ends is left out of its mean heading, seconds.
    settle_s: float = 3.0
    #: A leg broken off is followed for this long at most.
    broken_leg_s: float = 150.0
    #: Where positions are chords, half a circle less the drift corrections of both legs, degrees: what a turn lacks of
    #: it was flown unseen before or after, at its own rate but no slower than this, degrees a second.
    least_half_circle_deg: float = 150.0
    slowest_turn_dps: float = 0.5
    #: How much of the flight before and after the laps is measured with them: the entry, and the departure.
    before_s: float = 480.0
    after_s: float = 180.0
    #: A hole of at least this in a circuit is spoken of, seconds.
    least_hole_s: float = 5.0


CUTTING = CircuitCuttingThresholds()


@dataclass(frozen=True)
class CourseThresholds:
    """How the inbound course was met."""

    #: The pilot's gain, degrees of intercept for each mile beside the course; largest intercept, degrees; lag,
    #: seconds. Common practice spans them: from a lazy correction to full intercept a tenth of a mile off.
    gains_deg_per_nm: tuple[float, float, float, float] = (30.0, 60.0, 120.0, 240.0)
    largest_intercepts_deg: tuple[float, float, float] = (20.0, 30.0, 42.0)
    lags_s: tuple[float, float] = (5.0, 10.0)
    #: Turning is looked at over steps of this many seconds, of the last so many seconds of each leg.
    step_s: int = 4
    last_s: int = 90
    #: Sigma of the track after a step, degrees, of a steady hand and of a hand-flown heading on a bumpy day (which of
    #: them it was, the turning tells), with the tails of Student's t …
    track_sds_deg: tuple[float, ...] = (1.8, 2.5)
    freedom: float = 3.0
    #: … and the share of the steps that count, for one bump tells on several of them.
    independent_share: float = 0.35
    #: … and how far the legs of one pilot are alike in what no law explains, as a correlation.
    alike: float = 0.15
    #: How closely a fix is passed, one sigma, NM.
    passing_sd_nm: float = 0.08
    #: Chance that a leg was flown on an intercept, of any angle up to half of the range, to its very end.
    never_met: float = 0.3
    never_met_range_deg: float = 90.0
    #: Outbound, the reciprocal is flown, corrected by these many times the drift (from none to the triple that is
    #: taught, and a little more), give or take this sigma, degrees; with this chance it was for another reason.
    drift_multiples: tuple[float, ...] = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5)
    outbound_sd_deg: float = 6.0
    other_outbound: float = 0.1
    #: The straight end of a leg is trusted with so many times its own sigma: the turning has spoken already; and the
    #: ends of one pilot's legs are alike in how far they still are off, as a correlation.
    end_sd_share: float = 1.1
    ends_alike: float = 0.25
    #: Share of flights whose pilot keeps the nose on the fix, turning to it with these lags, seconds, and no faster
    #: than this, degrees a second.
    homes: float = 0.3
    homing_lags_s: tuple[float, float, float] = (2.0, 4.0, 8.0)
    homing_most_dps: float = 1.8
    #: … and how far beside the fix they pass, one sigma, NM: who keeps the nose on it, closely.
    homing_passing_nm: float = 0.04
    #: Share of those who hold to the fix what they rolled out on, were the legs no longer than nothing; it falls to
    #: 37 % of that for each so many seconds of leg.
    holds_on: float = 0.6
    holds_on_s: float = 25.0
    #: The way from roll-out to fix of those who home lies beside the course by this, one sigma, degrees, and of one
    #: leg beside the others' by that.
    homing_beside_sd_deg: float = 15.0
    beside_apart_deg: float = 10.0
    #: Who homes has the nose on the fix, give or take this sigma, degrees, so long after rolling out, seconds, and as
    #: far from the fix as this, NM; anybody else has it anywhere, one sigma. With this chance it was flown loosely.
    nose_sd_deg: float = 3.5
    nose_any_sd_deg: float = 12.0
    nose_after_s: int = 12
    nose_least_nm: float = 0.3
    nose_other: float = 0.03
    #: Whoever does not keep the course is set aside by the wind, to the same side each lap: one sigma, as a share of
    #: the greatest drift, for whom it is certain; it grows with this power of the chance that it is so.
    set_aside_share: float = 1.0
    set_aside_power: float = 0.7
    #: Rolled out is on the heading that holds the course, give or take this, degrees; or with this chance on one that
    #: cuts it, by up to some 30° either way: one sigma.
    rollout_sd_deg: float = 6.0
    cuts: float = 0.5
    cut_sd_deg: float = 22.0
    #: The search: this far to both sides of a first idea, then again this far round the best.
    coarse_deg: float = 60.0
    coarse_step_deg: float = 3.0
    fine_deg: float = 9.0
    fine_step_deg: float = 0.5
    cross_nm: float = 0.2
    coarse_cross_step_nm: float = 0.05
    fine_cross_step_nm: float = 0.025


COURSE = CourseThresholds()


@dataclass(frozen=True)
class InferenceThresholds:
    """Fix, course and leg of an unknown hold."""

    #: Of an inbound leg the last part is flown on the course; before it, the course is still being met. These
    #: lengths of it are tried, seconds, and the longest that is straight is taken. With each goes the sigma,
    #: degrees, with which it then tells the course: what is straight for a few seconds only may be one stretch of
    #: the meeting.
    settled: tuple[tuple[float, ...], ...] = ((60.0, 0.8), (45.0, 1.0), (35.0, 1.8), (25.0, 3.5), (16.0, 6.0))
    #: Straight is what bends no more than this from its first seconds to its last, degrees …
    straight_bend_deg: float = 4.0
    chord_points: int = 6
    #: … and what bends is doubted by a share of its bend besides.
    bend_doubt: float = 0.8
    #: A leg too short for any of that tells the course this badly.
    unsettled_sd_deg: float = 15.0
    #: At either end of a leg a roll may still be felt, seconds.
    roll_s: float = 3.0
    #: An arrival that crosses the course at a good angle crosses it at the fix: at least this angle, degrees, no
    #: longer than this before the first circuit, and within this distance of where the turns say.
    crossing_deg: float = 25.0
    crossing_s: float = 420.0
    crossing_nm: float = 2.5
    #: Weight of a merged turn, and of an arrival's crossing at right angles, against a clean turn.
    merged_weight: float = 0.3
    crossing_weight: float = 0.6
    #: How a pilot's beginnings of the outbound turn vary, seconds (common practice), worth so many laps of his own …
    lateness_s: float = 1.5
    lateness_laps: float = 2.0
    #: … and how late he is on average, in units of that (derived: half a normal distribution 1.3, an exponential 1.0,
    #: evenly from nothing to twice the mean 1.7), with its sigma, which has to hold for so few laps.
    lateness_mean: float = 1.2
    lateness_mean_sd: float = 0.7
    #: A turn whose beginning is known to no better than this, seconds, began in a hole of the log.
    hidden_s: float = 4.0
    #: An arrival that crosses the course farther before the turns than their lateness explains is believed to have
    #: crossed it at the fix by this share of the rest, one sigma along the course: half of it for each axis of the map,
    #: so that two sigmas reach the crossing (derived: the root of a half).
    late_alike: float = 0.71
    #: A turn that began farther from the others' middle than this, NM, and than twice their usual distance from it, was
    #: forgotten.
    forgotten_nm: float = 0.5
    #: Below these no flight tells the fix and the course, however alike its laps.
    least_fix_sd_nm: float = 0.03
    least_course_sd_deg: float = 0.5
    #: A leg longer than this in still air is not one of the usual minute or minute and a half, badly timed.
    longest_usual_minutes: float = 2.2
    #: Distance legs are charted from this length up (common practice).
    shortest_distance_leg_nm: float = 3.0
    #: An entry's own way in to the fix counts with the circuits' if it lasts this long, seconds, and agrees this
    #: well with their course.
    least_way_in_s: float = 25.0
    like_deg: float = 15.0
    #: A way in shorter than this, seconds, tells no course.
    least_leg_s: float = 10.0


INFERENCE = InferenceThresholds()
