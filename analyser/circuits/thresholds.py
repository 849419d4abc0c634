"""Every threshold of this room: one row each with its value, what it stands for, and how it was chosen.

Units are in the names (``_s`` seconds, ``_nm`` nautical miles, ``_deg``, ``_dps`` degrees a second, ``_ft``, ``_kt``);
``_odds`` are differences of log odds, ``_sd`` one sigma. A remark above a row speaks of the rows below it in turn.

*Swept*: the middle of the range within which the generated flights of :mod:`tests.accuracy` do not change.
*Common practice*: what pilots and instructors take for granted. *Derived*: follows by arithmetic from another value.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

# fmt: off


class GIVEN:
    """Cutting a flight by a given hold."""

    longest_hole_s = 240.0  # holes up to this are bridged: a lap and its passages may be told from both sides
    # Smoothing of the direction over the ground: this, or that share of the sampling interval; of chords the third.
    fine_scale_s = 3.0
    scale_share = 0.8
    chord_scale_s = 10.0
    near_nm = 3.0  # a hold is looked for whose fix was met so near (swept: a student who loses it was there once)
    # Who loses it is farther off by no more than this from one lap to the next, or back after so many (students laying
    # off three times their drift in 38 kt to the wrong side lose up to 3.1 NM a lap).
    lost_step_nm = 4.0
    lost_laps = 2
    gate_nm = 10.0  # a lap is begun and ended by passing the perpendicular through the fix this near to it …
    met_nm = 1.5  # … and at least one passage is this near, or something else was flown round
    around_nm = 12.0  # the turning that is usual is looked for within this of the fix …
    wind_nm = 6.0  # … and the wind that tells headings from tracks within this,
    strongest_wind_share = 0.75  # only where it is less than this share of the airspeed: else the circle was no good
    least_rate_dps = 0.7  # slower turning is the wander of a leg
    within_deg = 65.0  # the way leads inbound so near to the course, and outbound so near to the reciprocal
    # The usual rate is this percentile of the turning, where so many seconds of it are seen, else rate one; a turn is
    # as wide as at the last, at most. Drift is no greater than has this sine.
    usual_rate_percent = 65
    usual_rate_s = 20
    rate_one_dps = 3.0
    widest_turn_dps = 0.8
    most_drift_sine = 0.9
    met_before_s = 5  # the course is met as the way leads so long before the fix is passed: then no turn has begun
    apart_s = 15  # passages nearer together are one …
    begun_before_s = 20  # … and a lap's first turn began no longer before the passage it is told from
    # Who turns early never crosses the perpendicular: so near before the fix counts as passing, for who then flies
    # outbound, and for who leaves.
    early_nm = 1.0
    early_left_nm = 0.6
    early_share = 0.4  # … or, where that is more, by so much of a turn's width
    # A way inbound that is all one turn is part of an orbit where the whole of it turns through this, at more than that
    # share of the usual rate, level for no longer than the third, and turning for that share of its time (swept).
    orbit_deg = (300.0, 430.0)
    orbit_turn_share = 0.35
    orbit_pause_s = 3
    circle_turning_share = 0.85
    circle_within_deg = 75.0  # it begins and ends on a leg: within so much of the leg's direction
    circle_rolls_part = 6  # rolling in and out of it takes one such part each of a circle alone
    # Wings come nearly level between two turns: as much speaks for two as for one circle where the slowest turning is
    # this share of the hold's usual, and one more, as log odds, for each so much less, up to the third (weak students,
    # seeds 43 to 45: up to 0.47 between turns, mostly 0.55 and more within circles). A circle at less than that share
    # of the usual turning is hardly two turns, which never were below 0.63 of it there; it is steady by its own rate.
    circle_slowest = 0.44
    circle_slowest_slope = 0.08
    circle_steady_most = 3.0
    # Samples farther apart than this, seconds, blur a moment of level wings (a roll out and a roll in at 5° a second
    # take six to ten): of the rest between them nobody saw whether there was one.
    circle_seen_s = 4.0
    circle_slow = 0.6
    circle_slow_odds = 2.5
    # What else speaks for two turns or for one circle was chosen together on 790 of them by weak students of 31 seeds,
    # 372 of which ended laps: all are read rightly in all but 45 flights of 647 (57 by weights chosen one by one;
    # weights chosen on either half of the seeds read a sixth fewer flights of the other half wrongly).
    # So much speaks against a circle within a lap where no passage follows it.
    circle_after_odds = 3.5
    # A circle that passes the fix beyond ``lost_nm`` seldom ends a lap: so much less.
    circle_lost_odds = 1.5
    # … unless his other passages lie as far beside it: within so many times their median.
    circle_lost_unlike = 2.0
    # Who circles within a lap does so once: a second circle in it is so much more rare (common practice).
    circle_again_odds = 2.5
    # A circle from the fix to the fix, as steady as can be told, is no lap where others are: one that ends so shortly
    # before it, or only makes up for the wind, has no leg, and takes less than that share of a lap's time (two legs of
    # half a minute add half of its turns' time), or by so much less that laps plainly have legs. He flies none where
    # half of the others lead straight outbound for less than the last (weak students, nine seeds: 0 to 4 s where it was
    # a lap, 15 s and more where it was none).
    circle_sure_odds = -3.0
    circle_leg_s = 6
    circle_time_share = 0.67
    circle_legs_s = 40.0
    circle_outbound_s = 10
    # Over the fix itself two turns may run into each other: so much speaks for them, falling with how far beside it the
    # circle passes, one sigma as a share of its width (weak students, ten seeds: of steady circles that pass by 0.1 to
    # 0.3 of it all 12 were circles in legs). For one that never crosses the perpendicular so much less: the third.
    circle_met_odds = 1.5
    circle_miss_share = 0.15
    circle_short_odds = 0.5
    # One pilot's laps take about as long, give or take one of these shares; what befell a lap speaks against it by no
    # more than the second; so many circles within one lap, and so many usual times of a lap, are thought of.
    rhythm_sd = (0.09, 0.18)
    rhythm_most = 1.5
    most_circles = 3
    rhythm_times = 24
    # What passes the fix again after less time and less turning was not round yet; nor was what met the perpendicular
    # again in the turn begun over the fix: within the third, turned by less than the fourth, and level for no longer
    # than it takes to begin a turn late (Doc 8168: 6 s of reaction, 5 s of roll).
    shortest_lap_s = 60
    shortest_lap_deg = 200.0
    same_turn_s = 150
    same_turn_deg = 300.0
    same_turn_level_s = 11
    longest_lap_s = 1200.0  # a 10 NM leg against a gale fits in; a journey does not
    farthest_nm = 22.0
    # A lap so many times as long as the others, of which so much is explained by no turn and no leg, was a journey: the
    # hold was left and joined again (one lap in a hundred of weak students, seeds 43 to 45, has more than 41 s); from
    # the fix to the fix, that share of it at least.
    journey_ratio = 1.6
    journey_s = 120
    journey_share = 0.3
    lone_journey_s = 200  # a lone lap that leaves so much went round something else (seeds 60, 61: never above 40)
    arrival_nm = 1.5  # an arrival passes the fix within this (as ``met_nm``) …
    seen_arriving_s = 10  # … and is seen from so long before
    # … and the log shows an arrival, unless it begins so near where the laps are as long before the fix; on the inbound
    # leg, where an arrival from straight ahead is, too, only so shortly before it.
    begun_apart_nm = 1.0
    begun_inbound_s = 30
    begun_turning_deg = 20.0
    nearer_share = 0.5  # who crosses the perpendicular beside the fix, then comes nearer than this share, met it there
    between_visits_nm = 0.3  # between two visits to the fix the distance grows and falls again by this much
    # An entry's leg is no longer than this, or so many times the longest outbound leg and so much more (swept); where
    # the heading over a given fix asks for that entry, than the last: a leg that was forgotten.
    entry_leg_s = 155.0
    entry_leg_share = 2.0
    entry_leg_more_s = 45.0
    asked_leg_s = 300.0
    entry_turn_deg = 20.0  # a lesser turn at the fix is no turn of an entry but a correction
    # Laps that each go down so near to the ground and change height by so much are laps of an aerodrome; the ground is
    # where the log begins or ends no faster than the third.
    ground_within_ft = 250.0
    ground_dip_ft = 500.0
    taxi_kt = 35.0
    ground_samples = 10  # … told from so many samples
    # The reciprocal was flown where the laps pass so far beside the fix, by the reciprocal no farther than that share
    # of it and than the third, and every lap alike: the nearest no nearer than this share of the farthest …
    reversed_miss_nm = 0.6
    reversed_share = 0.4
    reversed_met_nm = 0.3
    reversed_alike = 0.7
    # … in so many laps at least (one flown wide passes the fix by its outbound leg, too), each passing on a leg: so
    # long before, the way turned by less than so much; and with legs of this share of those of the file's course.
    reversed_laps = 2
    reversed_leg_s = 15
    reversed_leg_deg = 30.0
    reversed_legs_share = 0.5
    other_end_laps = 2  # derived: between two whole laps at the other end lies a whole one of the file's
    another_course_deg = 10.0  # a hold flown at the fix of a file not taken: another course from so far off …
    reversed_from_deg = 150.0  # … and the reciprocal from so far
    # So many laps that fit a course farther off the given one, surely so by so many sigmas, ask whether the file is
    # right: 5° is what a course may be missed by.
    doubt_laps = 2
    doubt_course_deg = 5.0
    doubt_sigmas = 3.0
    # … where every lap came to the fix, on the second half of its leg or for so long, on a line to that side of the
    # file's course by so much of it; nearer to the fix than the last its bearing says nothing.
    doubt_beside_share = 0.5
    doubt_way_s = 15.0
    doubt_near_nm = 0.15
    # … and so do laps that fit a fix so far off (half a minute at 90 kt), where the arrival, so long before and after
    # it met the given fix, came nearer to theirs by this share.
    doubt_fix_nm = 0.75
    doubt_arrival_s = 90.0
    doubt_arrival_share = 0.5
    # The hold was left in the last lap where its way back passed the fix beyond the first, and the second as a share of
    # a turn's width, and more speaks for that than for a lap flown badly, as log odds: by how many times farther than
    # the others it passed, who met the fix within so much, for each e times; for each degree farther off the course
    # than they, and than so much; by whether it led straight across the course for so long, so far off it; by whether
    # it led straight past the fix, turning by less than so much; and the less, the more was turned back to the fix, for
    # each degree (weak students, 26 seeds, 1,673 last laps, 126 of them left: of each tenth, the odds fitted to the
    # other nine read 13 and 8 wrongly).
    left_nm = 0.15
    left_turn_share = 0.15
    left_odds = 2.59
    left_met_nm = 0.1
    left_farther_odds = 1.11
    left_off_deg = 20.0
    left_off_odds = 0.018
    left_across_s = 4
    left_deg = (50.0, 125.0)
    left_outbound_deg = 30.0  # … once the way no longer led so near to the reciprocal
    left_across_odds = 3.55
    left_straight_deg = 10.0
    left_straight_s = (12, 20)  # … for so long before the passage, or after it
    left_straight_odds = 1.97
    left_turn_odds = 0.0488
    left_sure_odds = 4.6  # 99 in 100: who left so surely is not told how far beside the fix he came back
    # A lap was left and joined again where its way out led across for so long (a turn with a pause leads across for
    # less), and it took so many times as long as the others.
    left_for_s = 60
    left_ratio = 1.15
    lost_nm = 1.5  # a passage beyond this is told: the pilot lost the fix
    no_leg_s = 4.0  # a shorter leg is none: roll-out and roll-in touch
    # Of several given holds the one is taken for which most speaks: a point for each lap, and for each passage, halved
    # by so much beside the fix; one off for so much beside the course; these for the other hand. Within the last of the
    # best, another fits as well.
    near_evidence_nm = 0.4
    course_evidence_deg = 20.0
    hand_evidence = 1.5
    alike_evidence = 0.4
    # A lap broken off was begun so soon after the fix, or after the turn inbound where that led past it, by a turn of
    # so much, by heading and over the ground (a turn away to the side is less), or where the laps' own are less, of
    # theirs less the third; after two laps at least of theirs less the fourth; never of less than the fifth. It led
    # outbound so near to the reciprocal for so long, and is followed so far.
    broken_begun_s = 60
    broken_turn_deg = 92.0
    broken_own_deg = 40.0
    broken_like_deg = 60.0
    broken_least_deg = 60.0
    broken_within_deg = 45.0
    broken_stays_s = 6
    broken_s = 420
    # … and where no lap was flown whole, so long without turning (half of the shortest leg taught), by who met the fix
    # within the last (half of what loses a file's fix its doubt).
    part_leg_s = 15
    part_met_nm = 0.5


class ENTRY:
    """Which entry was flown."""

    heading_from_s = 7.0  # the heading over the fix is read from so long before it …
    heading_to_s = 2.0  # … to so long before, so that the turn has not begun
    # Headings so far short of the outbound course, towards the holding side, ask for an offset entry, and so far beyond
    # it for a parallel one (US Navy P-821, fig. 3-8; AIM 5-3-8); within 5° of a border either is right.
    offset_to_deg = 70.0
    parallel_to_deg = 110.0
    sector_sd_deg = 5.0
    heading_sd_deg = 1.0  # a nose that swings in a few seconds tells its heading no better …
    unread_sd_deg = 5.0  # … and so badly where it was not read
    # How usual each entry is from each sector (common practice: most pilots fly the right one; a learner's wrong one
    # may be any; an offset entry from the direct sector hardly differs from a lap with a narrow outbound leg).
    usual: ClassVar[Mapping[str, Mapping[str, float]]] = {
        "offset": {"offset": 0.68, "direct": 0.12, "parallel": 0.12, "other": 0.08},
        "parallel": {"offset": 0.1, "direct": 0.12, "parallel": 0.75, "other": 0.03},
        "direct": {"offset": 0.015, "direct": 0.9, "parallel": 0.08, "other": 0.005},
    }
    # The courses that an inferred hold may have are tried so many sigmas off.
    course_off_sd = (-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    entry_alone = 0.05  # so many of those who come to a hold fly its entry and no lap
    hand_misread = 0.003  # the hand of a turn back is misread so often; where the log hides it, it is any
    hand_told_deg = 12.0  # … unless so much of it was seen, as swings of a leg turn through less
    # The turn to one hand leads to where a hole of the log ends, give or take this; or with this chance it was flown
    # otherwise.
    hidden_way_sd_s = 15.0
    hidden_otherwise = 0.02
    hidden_entry_odds = 3.0  # an entry that a hole hides is named where so much more speaks for it than for any other
    against_deg = 60.0  # a lap begins with a turn against the hold's hand through more than this …
    lap_against = 0.03  # … so rarely
    offset_deg = 30.0  # an offset entry's leg leads so far to the holding side of the reciprocal
    offset_lean_deg = 15.0  # what leans by less than half (derived) was none, unless the rest of it says so
    unled_offset_odds = 1.0  # one that leads off by less is so much likelier than a direct entry
    unsure_odds = 2.0  # an offset entry and a first lap nearer than this (seven to one, common practice) may be either
    # So many times the drift is laid off, up to the last: none by who flies headings, once by who flies tracks, three
    # times by who corrects for the turns, too (common practice); to the wrong side by who confuses where the wind is
    # from, each multiple so much more rarely than the usual one (his other legs show it).
    drift_multiples = tuple(0.25 * quarter for quarter in range(-12, 13))
    usual_multiple = 1.2
    multiple_sd = 0.9
    wrong_side = 0.01
    most_laid_off_deg = 50.0
    as_taught = 0.5  # so many fly the 30° as a heading (AIM 5-3-8) or a track (Doc 8168), whatever laps lay off
    leg_heading_sd_deg = 8.0  # a learner's heading differs from the one meant (common practice) …
    leg_told_s = 12  # … told by a leg of so long at least …
    # A leg shorter than the first leads where the way does with so much of it before and after.
    shortest_leg_s = 6
    beside_leg_s = 4
    # … which an entry lacks so much more rarely than a lap, whose watch may start over the fix: where the turn back
    # begins so soon after the fix (half a minute, the shortest leg taught, and the turn onto it).
    legless_entry = 0.1
    legless_s = 40
    stray_leg = 0.01  # a leg differs so often, for each leg, for no reason that is known


class PHASES:
    """A lap explained as turn, leg, turn, leg; fits are in units of a second of clear turning."""

    turn_share = 0.4  # a second is as much turn as leg at this share of the usual rate (half of a turn's bank) …
    turn_slope = 0.25  # … so much more or less and it counts fully …
    most = 1.5  # … but no second for more than this
    leg_within_deg = 80.0  # a second of a leg that leads farther from its direction speaks against it …
    astray = 0.4  # … by so much
    # A turn past the outbound direction by so much speaks against being the outbound turn, and one that has not come so
    # near to it against being the inbound turn.
    passed_deg = 35.0
    passed = 0.5
    past_outbound_deg = 60.0  # a lap's only turn is both where it leads on past outbound by more: no drift asks it
    reversed_deg = 150.0  # … by more than this it leads the other way
    both_turns_deg = 270.0  # its second is both where it turns through more (derived: half way from 180° to 360°) …
    no_turn_deg = 35.0  # … and the first through less: a correction, as ``least_change_deg`` has it
    late_s = 30  # who flies on over the fix for longer was not only late (Doc 8168: 6 s of reaction, 5 s of roll)
    other_hand = 12.0  # the other hand has to explain better by this, for each turn
    orbit_deg = 310.0  # a whole circle turns through at least this …
    turn_before_circle_deg = 90.0  # … so much more is a turn of the lap that runs on into it (half of 180°) …
    orbit_after_deg = 120.0  # … and on an inbound leg it comes after this much turning of the lap
    leg_off_deg = (70.0, 110.0)  # on an inbound leg the way leads off the course by less, on an outbound one by more
    pause_deg = 12.0  # level for the time of turning so much ends no circle: who banks little rolls slowly
    unseen = 0.5  # a second within a hole says so much of what another says: the way there is a guess


class LOOPS:
    """Coming back over one point, where no racetrack was seen, and what is shown as perhaps a hold."""

    step_s = 4  # the flight is looked at every so often
    shortest_s = 60  # once round takes so long at least …
    longest_s = 900  # … and at most
    round_deg = (235.0, 440.0)  # 360°: less where the way in came from the side, more where the course was met late …
    near_nm = 2.0  # … and comes back so near …
    near_share = 0.75  # … and no farther than this share of how far away it went
    alike_places = 4  # of places met so often, or oftener, the one that is met most closely is taken
    slowest_kt = 35.0  # slower over the ground is no flying
    # A way round is circling where it is quicker than this with less than that share of it straight, or with hardly
    # anything straight; straight is what turns less than the last of the usual rate.
    circling_s = 78.0
    circling_share = 0.5
    least_straight_share = 0.05
    straight_rate_share = 0.4
    usual_rate_percent = 80  # the usual rate is this percentile of it
    most_circling = 2  # who lost his legs holds so; who circles for climb or practice does it more often
    dip_ft = 900.0  # laps of an aerodrome change height by more …
    dip_back_ft = 250.0  # … and come back to it within this
    many_loops = 3  # a flight that came round to so many other places draws laps for some other reason
    # A hypothesis of the fix lies where the way was straight for so long, within so much, and turns by the third within
    # the fourth; one is tried every so many seconds.
    straight_before_s = 12
    straight_deg = 12.0
    turn_deg = 25.0
    turn_within_s = 20
    smoothed_s = 4.0
    hypothesis_step_s = 6
    # A loop is plainly a hold where its laps pass so near to fix and course, with so much leg, none so many times as
    # long as another, and the speed over the ground changes by no more than so many times (wind included).
    plain_miss_nm = 0.45
    plain_course_deg = 25.0
    plain_legs_s = 25
    plain_lap_ratio = 1.9
    plain_speed_ratio = 2.2
    # Where nothing else was seen, one turn that leads back over a place is shown, if it is the only one: so long before
    # and after it (the longest leg taught, twice), so near, and on the reciprocal within so much (derived: an offset
    # entry leads off by 30°, and as much again may be drift).
    back_leg_s = (8, 180)
    back_near_nm = 0.15
    back_within_deg = 65.0
    settled_nm = 0.3  # a fix farther from the place that it was looked for by is inferred once more from there
    coarse_s = 15.0  # positions farther apart are too coarse to tell a turn from a leg: half a rate-one turn
    ends_within_s = 140.0  # a log that ends so soon after a first turn: a leg of 1½ minutes, half as long again
    known_share = 0.5  # a lap of which more than this is known to be something else is that


class REJECTION:
    """What speaks against a racetrack that was found by its shape. All swept, but for those that say otherwise."""

    # A hold is level, or goes one way. Down and up again by the second is a circuit round an aerodrome or an approach;
    # by the first it may be, or a height that only wanders, its lows unlike by the third, one of so many left out where
    # the log has holes; looked at so long before and after.
    sawtooth_ft = 420.0
    wander_ft = 900.0
    lows_alike_ft = 60.0
    lows_unlike = 4
    around_s = 45
    height_smoothed_s = 5.0
    height_step_s = 5
    # Longer legs, averaged over a lap, belong to a journey or a survey: with the height known to be held, and without;
    # unless they are no longer than the third over the ground: against a gale a minute's leg takes many.
    longest_leg_s = 330.0
    longest_leg_blind_s = 200.0
    slow_leg_nm = 5.0
    timed_leg_s = 140.0  # longer is no timed hold's (a minute and a half, half as long again) …
    unlike_legs_share = 0.1  # … and a distance leg's are alike within this share
    strong_wind_share = 0.22  # a wind of more of the airspeed can leave a leg no time (derived: the exact circuit)
    shortest_legs_s = 22.0  # both legs together: less is an orbit (the shortest taught are half a minute each) …
    shortest_lone_legs_s = 40.0  # … and of one lap alone
    leg_swing_deg = 75.0  # a leg swings by less, correction and late meeting of the course included …
    leg_end_s = 4  # … and so near to its ends may still be turning
    reversal_deg = 210.0  # both turns through more: back on its own line (derived: 180° and most of 45°)
    march_nm = 0.07  # laps whose fixes march on by more each time, all one way, are lines of a survey …
    survey_legs_s = (110.0, 150.0)  # … two laps where legs are longer than the second; one more below each
    march_missed_share = 0.85  # … if no lap comes back over its beginning nearer than this share of a step …
    march_unlike_share = 0.5  # … and steps differ by less than this share of it
    # Laps whose fixes march on by so much each time (of one step: the second), whichever way, every step like the mean
    # within this share, have no fix.
    no_fix_nm = 0.5
    no_fix_one_step_nm = 0.8
    no_fix_alike = 0.5
    speed_ratio = 1.75  # a hold is flown at one speed, wind allowed for: quickest to slowest
    # The quickest and the slowest are these percentiles; half the sum of opposite ground velocities, which are those,
    # is the wind, roughly.
    quickest_percent = (3, 97)
    opposite_percent = (2, 98)
    speed_smoothed_s = 6.0
    leg_speed_share_blind = 0.27  # without heights: so much change of ground speed along a leg is a landing's
    leg_inside_s = 5  # … less so much at either end, where so much is left; smoothed with so much beside it
    leg_told_s = 10
    leg_beside_s = 30
    # One lap alone comes back so near to its beginning, or within that share of its width; where its first turn is no
    # half circle, or fixes are sparse, within the third; looked for so long after it was passed.
    miss_nm = 0.3
    miss_share = 0.35
    rough_miss_nm = 0.5
    met_late_s = 45
    most_rate_dps = 4.5  # half again rate one, over the ground …
    most_rate_ratio = 2.0  # … and both turns at much the same rate
    least_speed_kt = 40.0  # no aeroplane holds more slowly (common practice)
    # A lone lap that begins with less than half a circle has to look like a hold in all else: its legs between these,
    # so little change of height; or, where the log has no height, it comes back as near as the last.
    lone_leg_s = (12.0, 150.0)
    lone_height_ft = 350.0
    blind_miss_nm = 0.2
    shortest_swing_s = 8  # nothing is told of a way that moves for less …
    slow_kt = 30.0  # … and slower, in a gale, a track swings with every breath
    pause_share = 0.3  # a turn pauses where its rate falls below this share of the usual …
    pause_s = 4  # … for so long …
    usual_rate_percent = 75  # … the usual is this percentile of it
    rate_smoothed_s = 1.5
    fine_scale_s = 6.0  # … seen at no coarser smoothing than this


class RACETRACK:
    """Racetracks found by their shape: runs of turning, chains of turns, laps, which laps belong together."""

    # Runs of turning in a survey.
    slowest_turn_dps = 0.55  # slower is the wander of a leg; 25° of bank at 450 kt still turns at 1.1°/s
    edge_share = 0.3  # a turn is where the rate is above this share of the rate usual around it
    join_s = 9.0  # pieces closer together are one turn: nobody times a leg that short
    least_change_deg = 35.0  # less is a correction, not a turn
    wobble_deg = 4.0  # … and so little the other way parts no turn
    usual_percent = 80  # the rate usual around a point is this percentile of it, over blocks of so long on both sides
    usual_block_s = 300
    least_circle_deg = 310.0  # a whole circle, measured over the ground …
    most_circle_deg = 410.0
    # Turns of one hand that follow each other.
    least_first_turn_deg = 55.0  # first turn of a direct entry from the edge of its sector: 70 degrees, and drift
    most_first_turn_deg = 330.0  # who joins directly from another sector turns nearly a whole circle first
    shortest_leg_s = 6.0  # shorter is an orbit …
    longest_leg_s = 780.0  # … and longer a journey
    longest_first_leg_s = 200
    largest_correction_deg = 75.0  # an overshot course regained, the other way within a leg, does not end a chain
    # Laps.
    least_turn_deg = 100.0  # half a circle, give or take the drift corrections of both legs in a strong wind …
    most_turn_deg = 262.0
    merged_turn_deg = 205.0  # a longer outbound turn began as the end of meeting the course, so not over the fix
    late_turn_s = 60  # who joins from the side may fly on over the fix this long before turning
    # Two stays that follow each other within this, on courses this near, are stays in one hold.
    one_stay_s, one_course_deg = 60.0, 20.0
    closing_nm = 1.0  # a lap comes back to its beginning within this …
    closing_share = 0.5  # … or within this share of its turn's diameter
    # It is looked for until so long into the next turn, else for a leg's length and so much more, no less than a
    # minute's.
    next_turn_s = 15
    way_back_more_s = 90
    shortest_way_back_s = 60
    # A course is made good over so long before it, the roll-out left out, farther than the last.
    made_good_s = 90
    rollout_s = 8
    made_good_m = 50.0
    # Which laps come back over their beginning, and which of them belong to one hold.
    longest_way_in_s = 200.0  # an entry's last turn is no longer before the first lap, or than its legs and turn
    # Laps of one hold begin within this share of the closing distance of each other and come back within this angle of
    # one course, or within the wider one where they begin at one point.
    fix_apart_share = 1.6
    course_apart_deg = 40.0
    late_met_deg = 75.0
    left_miss_nm = 0.7  # a last lap that misses the fix by more …
    left_miss_ratio = 5.0  # … and by so many times the others' usual miss, was left
    odd_one_ratio = 2.5  # between laps of one hold, one may miss by this many times the tolerance
    # Which readings are kept.
    scales_s = (3.0, 6.0)  # smoothing scales, finest first …
    chord_scales_s = (10.0, 14.0)  # … and for positions joined by chords
    # A lap is a parallel entry if its second turn is longer by this much, and a hold of the other hand begins within
    # this time and distance of its end.
    parallel_lopsided_deg = 40.0
    parallel_follows_s = 75.0
    parallel_near_nm = 3.5


class SCORING:
    """What speaks for one reading of a chain of turns against the other."""

    log_begins_s = 20  # nothing is said of an arrival that the log has less of
    offset_met_nm = 0.6  # an offset entry meets the fix within this …
    offset_lean_deg = (-75.0, -5.0)  # … and its leg leads to the holding side, negative here, or it is a lap's own …
    offset_from_deg = (-85.0, 15.0)  # … having come from near its sector, told from the reciprocal, so long before
    passing_s = 5
    # A lap speaks for its fix with so many points; that it comes back near it makes up this share of them, and half of
    # that share if it misses by this much of the tolerance.
    lap_points = 1.6
    close_share = 0.75
    half_miss_share = 0.3
    # The next turn that begins so near to the fix, in tolerances, shows where it is, too. Scatter of the fix and the
    # laps' mean miss, in tolerances up to 1 and up to the last, speak against it by so much each.
    begun_again_share = 1.5
    scatter_points = 2.0
    miss_points = 3.0
    most_miss_share = 0.8
    # An arrival that fits an entry with turns; a direct one, and none; a turn that is no entry's; one over the fix,
    # from no sector for it. A departure straight on, and by one more turn.
    entry_points = 2.2
    direct_points = (0.8, -0.4)
    no_entry_points = -1.5
    no_sector_points = 0.3
    departure_points = (0.8, -0.2)
    coarse_points = 0.01  # a reading is worth so much less for each second that it was smoothed over
    # A parallel entry's turn back, of the other hand, ends so long before the first lap at most; the fix was passed so
    # long before it at most, and the leg between leads so near to the outbound course.
    parallel_back_s = 240
    parallel_leg_s = 240
    parallel_within_deg = 60.0
    # … and may end so long after the lap's turn began; a way out is no shorter than the second.
    back_ends_s = 5
    shortest_way_out_s = 15
    # Joined directly: arriving so much to the left and to the right of the course, seen from a right-hand hold, with a
    # good margin for drift and a course not well known yet.
    direct_from_deg = -90.0
    direct_to_deg = 130.0
    arriving_s = 3  # read so long before the turn


class ENDS:
    """Which end of a racetrack is the fix."""

    # Weights, as log odds: points for the laps, the arrival and the departure; how closely along the course the turns
    # begin (log ratio of the squared scatter of the two ends); how much more the one leg is corrected (log ratio of
    # turning); how much nearer to a minute it is (log ratio); how much nearer the arrival led to the one end (log ratio
    # of the squared distance). A logistic regression over generated flights (courses, students, main and instrument,
    # seeds 60 to 62 and 200), with less weight than it finds for the departure, which invented pilots always make over
    # the fix, and for the legs. No one tells more than the second row, in its own measure: autopilots correct no leg.
    weights = (0.8, 0.3, 0.7, 0.6, 1.2, 1.2, 0.4)
    most = (6.0, 6.0, 6.0, 4.0, 2.0, 1.4, 4.0)
    scatter_nm = 0.05  # scatter, and turning, that nobody is without
    dps = 0.1
    # The arrival is looked at for so long before the first turn and until it has begun, but no longer than it takes to
    # pass the end that it met first: so near, and for so long. A log that begins later may begin within a lap.
    arrival_s = 360
    arrival_ends_s = 5
    arrival_met_nm = 0.35
    arrival_passes_s = 12
    least_arrival_s = 120
    arrival_nm = 0.15  # nobody passes a fix nearer
    most_off_the_minute = 0.7  # a leg of twice or half a minute was not timed to be one, as a logarithm
    scatter_tells = 2.0  # so many turns beyond the first at either end tell their scatter fully
    # A leg's turning is looked at without its ends and its quickest swings, where so much of it is left.
    leg_ends_s = (5, 4)
    smoothed_s = 5
    shortest_leg_s = 8
    halved_chance = 0.3  # of the other end, where whole circles were taken apart and read one way only: nearly even
    open_chance = 0.046  # the other end is spoken of from here (derived: what lies beyond two sigmas)


class DETECTION:
    """Turns cut at their roll events."""

    level_bank_deg = 2.0  # "leaving level" is the passing of this bank: a wing is never quite still
    on_share = 0.42  # a turn is on while the bank is above this share of what it is in the middle of the turn …
    least_on_deg = 3.5  # … which is never taken to be below this
    join_s = 8.0  # same-handed pieces closer than this may be one turn
    roll_rate_dps = 5.0  # usual roll rate (common practice), where the sampling hides how long the roll lasted
    # Where smoothing spreads a roll by more than a roll lasts, its slope tells little; a roll takes so long, at least
    # and at most. Its slope is read between these shares of the bank inside, seen so many samples into the turn at
    # least and at most, which is never taken to be below that; the passing of level lies no farther than that share
    # from half.
    usual_roll_s = 2.0
    rolls_s = (0.5, 12.0)
    slope_shares = (0.25, 0.5, 0.75)
    inside_s = (3, 14)
    least_plateau_deg = 4.0
    most_level_share = 0.45
    inwards_s = 12  # a crossing is looked for from so far inside the turn, where it begins below the level
    # Sigma of an instant: so much, and this share of what the smoothing spreads it by.
    instant_sd_s = 0.35
    blur_sd_share = 0.3
    # The bank is established so many times that spread after the roll, and for so long at least; so much of a turn's
    # end leaks into its mean.
    margin_share = 0.6
    established_s = 5.0
    leak_share = 0.03
    smoothed_s = 1.5
    # A survey's turn is not looked at in so much of it at either end; a piece of bank belongs to it with this share of
    # itself, turning by so much.
    edge_share = 0.2
    piece_within_share = 0.3
    least_piece_deg = 5.0
    rough_sd_s = 10.0  # where positions are chords instants are known to this
    alike_deg = 15.0  # directions farther from their middle are left out of a mean
    swing_s = 4.0  # a bank's swings go on for so long …
    swing_share = 0.25  # … and this share of them is lost between samples and to the smoothing
    by_and_by_swings = 5.0  # the middle half of a turn may differ from the whole by so many times what these do
    # No mean bank is known better: the ball of a real aircraft is a little off its middle in every turn alike (on the
    # flights of aircraft models by a tenth of a degree and more of bank).
    least_bank_sd_deg = 0.09
    # A hole in the established part adds to that, by the share of the part that it takes: swept on turns with holes in
    # up to six tenths of them; who was not seen for the whole turn is not known.
    hole_bank_sd_deg = ((0.0, 0.0), (0.6, 0.42), (1.0, 8.0))
    # A turn seen roughly is looked for so long before and after, at no lesser bank; gaps in it are closed where the
    # bank stays above this share of the turn's.
    around_span_s = 18.0
    least_span_on_deg = 2.6
    piece_gap_share = 0.25
    on_leg_deg = 50.0  # wings level so near to a leg's direction end the turn towards it …
    level_s = 4.0  # … and so do wings level for so long, once it is most of a half circle
    level_gap_deg = 3.5  # nearer to level between two pieces were level for a moment: the estimate fills so short a dip
    level_moment_share = 0.8  # … for two seconds, nearer than this share of the bank that closes a gap
    pause_s = 25.0  # pieces with less between them are put together where the survey saw one turn
    least_rest_deg = 125.0  # what is left of a turn without its corrections turns through at least this
    circle_slack_s = 12.0  # a half circle's own ends may differ from the turn's by this before it is cut there
    # Sigma of an instant that lies in a hole, or so near beside one: so much, or this share of the hole where that is
    # more. The mean bank is known to the last share of itself, times the share of the turn that lies in the hole: when
    # it was rolled nobody knows. (Both shares swept on turns with holes of 30 to 100 s.)
    hole_sd_s = 6.0
    hole_reach_s = 6.0
    hole_sd_share = 0.15
    hole_bank_share = 0.3


class CUTTING:
    """Laps cut into circuits, how much is measured with them, and what is worth a word."""

    still_turning_s = 8.0  # a turn that began this long before the fix, and goes on past it, was to meet the course
    on_course_deg = 20.0  # … unless the track lay within this of the course, as nobody's does who is still to meet it
    passing_s = 12.0  # a passage seen roughly is looked for so long before and after
    settle_s = 3.0  # wings level is not heading steady: left out of a leg's mean heading at its ends
    settle_share = 0.2  # … but no more than this share of it at each
    least_heading_sd_deg = 0.3  # no mean heading is known better
    # The speed that a sigma is divided by: no less, and this where none was measured.
    least_tas_kt = 30.0
    usual_tas_kt = 100.0
    beside_s = 5.0  # laps are measured with so much before and after them
    arrived_s = 15.0  # the arrival's passage is looked for so long before and after where it was seen
    abeam_after_s = 8.0  # abeam is not met sooner than so long into the outbound turn
    broken_leg_s = 150.0  # a leg broken off is followed for this long at most
    # Between chords, half a circle less the drift corrections of both legs: what a turn lacks of it was flown unseen,
    # at its own rate but no slower than the second.
    least_half_circle_deg = 150.0
    slowest_turn_dps = 0.5
    before_s = 480.0  # so much before the laps is measured with them, for the entry …
    after_s = 180.0  # … and after, for the departure
    least_hole_s = 5.0  # a hole of at least this in a circuit is spoken of


class COURSE:
    """How the inbound course was met."""

    # The pilot's gain, degrees of intercept for each mile beside the course; largest intercept; lag. Common practice
    # spans them: from a lazy correction to full intercept a tenth of a mile off.
    gains_deg_per_nm = (30.0, 60.0, 120.0, 240.0)
    largest_intercepts_deg = (20.0, 30.0, 42.0)
    lags_s = (5.0, 10.0)
    step_s = 4  # turning is looked at over steps of so long …
    last_s = 90  # … of the last so many seconds of each leg
    # Sigma of the track after a step, of a steady hand and of a hand-flown heading on a bumpy day (the turning tells
    # which), with the tails of Student's t …
    track_sds_deg = (1.8, 2.5)
    freedom = 3.0
    independent_share = 0.35  # … and the share of steps that count, for one bump tells on several …
    alike = 0.15  # … and how far legs of one pilot are alike in what no law explains, as a correlation
    passing_sds_nm = (0.025, 0.05, 0.1)  # how closely a fix is passed; how unlike the laps pass tells which
    never_met = 0.3  # chance that a leg was flown on an intercept to its very end …
    never_met_range_deg = 90.0  # … of any angle up to half of this
    # Outbound, the reciprocal is flown, corrected by these many times the drift (none to the triple that is taught, and
    # a little more), give or take this sigma; with this chance it was for another reason.
    drift_multiples = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5)
    outbound_sd_deg = 6.0
    other_outbound = 0.1
    end_sd_share = 1.1  # the straight end is trusted with so many times its sigma: the turning has spoken already …
    ends_alike = 0.25  # … and one pilot's are alike in how far they still are off, as a correlation
    # Share of flights whose pilot keeps the nose on the fix, turning to it with these lags and no faster than this, and
    # how far beside the fix they pass: closely.
    homes = 0.3
    homing_lags_s = (2.0, 4.0, 8.0)
    homing_most_dps = 1.8
    homing_passing_nm = 0.04
    holds_on = 0.6  # share of those who hold to the fix what they rolled out on, were the legs no longer than nothing …
    holds_on_s = 25.0  # … falling to 37 % for each so much of leg
    homing_beside_sd_deg = 15.0  # the way from roll-out to fix of those who home lies so far beside the course …
    beside_apart_deg = 10.0  # … and that of one leg beside the others'
    # Who homes has the nose on the fix, give or take this sigma, so long after rolling out and so far from the fix;
    # anybody else has it anywhere. With the last chance it was flown loosely.
    nose_sd_deg = 3.5
    nose_any_sd_deg = 12.0
    nose_after_s = 12
    nose_least_nm = 0.3
    nose_other = 0.03
    # Whoever does not keep the course is set aside by the wind, to the same side each lap: one sigma, as a share of the
    # greatest drift, for whom it is certain; it grows with this power of the chance that it is so.
    set_aside_share = 1.0
    set_aside_power = 0.7
    rollout_sd_deg = 6.0  # rolled out is on the heading that holds the course, give or take this …
    cuts = 0.5  # … or with this chance on one that cuts it …
    cut_sd_deg = 22.0  # … by up to some 30° either way: one sigma
    # The search: this far to both sides of a first idea, then again this far round the best.
    coarse_deg = 60.0
    coarse_step_deg = 3.0
    fine_deg = 9.0
    fine_step_deg = 0.5
    cross_nm = 0.2
    coarse_cross_step_nm = 0.05
    fine_cross_step_nm = 0.025


class INFERENCE:
    """Fix, course and leg of an unknown hold."""

    # Of an inbound leg the last part is flown on the course; before it, the course is still being met. These lengths of
    # it are tried, and the longest that is straight is taken, each with the sigma with which it then tells the course:
    # what is straight for a few seconds only may be one stretch of the meeting.
    settled = ((60.0, 0.8), (45.0, 1.0), (35.0, 1.8), (25.0, 3.5), (16.0, 6.0))
    settled_share = 0.8  # … of no more than this share of the leg
    straight_bend_deg = 4.0  # straight is what bends no more from its first seconds to its last …
    chord_points = 6
    bend_doubt = 0.8  # … and what bends is doubted by a share of its bend besides
    unsettled_sd_deg = 15.0  # a leg too short for any of that tells the course this badly
    roll_s = 3.0  # at either end of a leg a roll may still be felt
    # How late past the fix a pilot begins his turns (common practice): usually this on average, give or take this
    # factor, one sigma; by habit or now and then (shapes of a gamma distribution); and to what the fix is seen to pass.
    usual_lateness_s = 1.5
    lateness_factor = 2.7
    lateness_s = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
    lateness_shapes = (1.0, 3.0, 10.0)
    latest_s = 30.0
    early_s = 5.0
    step_s = 0.25  # how finely it is looked for
    needle_sd_s = 0.7
    # Where positions are chords a turn begins near the corner of two, to this share of what lies between samples: half
    # of what "somewhere between" would leave (generated chords leave less, those of nine real arrivals just this).
    chords_share = 0.145
    merged_sd_s = 5.0  # a merged turn began as the end of meeting the course
    # With these chances a turn began for another reason, after the fix or before it, anywhere within so long.
    begun_late = 0.1
    begun_early = 0.02
    other_s = 60.0
    # Most arrive over the fix, so near to it; some pass it elsewhere. Who does not correct for the wind, or is late by
    # habit, passes it elsewhere on every lap alike, with this chance and sigma (weak pilots, generated). The arrival is
    # looked for so long before; nearer than the last a second's way tells on where it is nearest.
    over_chance = 0.9
    arrival_sd_nm = 0.02
    elsewhere_nm = 1.5
    aside_chance = 0.3
    aside_sd_nm = 0.5
    arriving_s = 420.0
    seconds_apart_nm = 0.05
    forgotten_nm = 0.5  # the fix is hardly known where no lap is whole: this far
    least_fix_sd_nm = 0.015  # below these no flight tells fix and course, however alike its laps
    least_course_sd_deg = 0.5
    longest_usual_minutes = 2.2  # a longer leg in still air is no usual minute or minute and a half, badly timed
    shortest_distance_leg_nm = 3.0  # distance legs are charted from this length up (common practice)
    repeated_share = 0.05  # … and are flown alike within this share
    # An entry's own way in counts with the circuits' if it lasts this long and agrees this well with their course.
    least_way_in_s = 25.0
    like_deg = 15.0
    least_leg_s = 10.0  # a shorter way in tells no course
