"""Every number that tells what was flown from what is noise: one row each with its value and what it stands for.

What is judged by, tolerances and points, stands in the rules (:mod:`analyser.rules`). Units are in the names (``_s``
seconds, ``_nm`` nautical miles, ``_deg``, ``_dps`` degrees a second); ``_sd`` is one sigma, ``_share`` a part of one.
[C] marks common practice. A remark above rows speaks of them in turn.
"""

from __future__ import annotations

# fmt: off


class LAP:
    """A circuit as it was flown."""

    # With a course known no better than this, nobody knows what was right, nor when the fix was passed: half of what
    # lies between an offset entry and the outbound course.
    course_known_deg = 15.0
    either_way_deg = 90.0  # sigma of a course that may as well be its reciprocal
    passed_nm = 0.05  # a fix was passed where the aircraft came as near as this to abeam it
    turning_deg = 8.0  # bank of a turn that was begun well before
    # A leg of less than this is none: it shows no heading that was held, (common practice: a heading takes
    # some seconds to settle after a roll-out).
    least_leg_s = 4.0
    half_round_deg = 90.0  # a turn of at least this went one way or the other; less is a correction
    most_hole_share = 0.3  # a phase of which more than this share lies in a hole of the log was not measured


class JOINING:
    """The entry."""

    # How long before the fix the slowing down is looked at: what the FAA asks (AIM 5-3-8 j.8(a)), for all.
    looked_at_s = 180.0
    track_sd_deg = 1.0  # sigma of a leg's track from positions
    # A leg's heading is flown from when it is met within this; and how well that instant is known.
    on_heading_deg = 6.0
    on_heading_sd_s = 2.0
    # A parallel entry's leg lies within this of the outbound course, however badly tracked, and is turned onto
    # through less than that.
    leg_within_deg = 45.0
    leg_turn_deg = 130.0


class KEEPING:
    """Altitude and speed kept, or left."""

    rate_over_s = 20.0  # the rate of climb is read over this many seconds, so that a bump is no climb
    way_out_s = 120.0  # how long after the hold a move that began in it may go on
    shortest_level_s = 30.0  # two moves with less level flight than this between them are one
    read_over_s = 5  # a needle is read over a few seconds; a single gust or reading is not the pilot's
    held_share = 0.5  # what was kept for less of the hold than this was not held
    # What lies this near to one straight line, as a share of its rise, climbed or sank all the time: a step does not.
    straight_share = 0.25
    least_level_share = 0.3  # with less of the circuit than this flown level there is no altitude to judge
    # Gusts are forgotten within some ten seconds, so a minute's mean keeps about this share of their scatter.
    gust_left_share = 0.6
    worst_gust_sd = 3.0  # the worst of the hundred gusts of a hold is about so many sigmas
    # A derived speed leans on the instant where time was taken out of the log for so long on either side, and so many
    # samples.
    seam_s = 6.0
    seam_samples = 2.0


class LEG:
    """Legs and turns of a circuit."""

    position_sd_nm = 0.005  # a receiver's position is good to about this, (nine metres) [C]
    # Between two samples a turn of this bank may have begun or ended: the most of rule and practice.
    hidden_bank_deg = 25.0


class BUDGET:
    """What cost what."""

    # A course is met again at this angle, as is taught [C]; what that costs in time belongs to whoever caused it.
    intercept_deg = 30.0


class FINDING:
    """What is said of a hold, and how."""

    # A derived speed is smoothed over about a minute: a swing of less than two shows less than was flown.
    swing_s = 120.0
    fine_s = 3.0  # with true samples as near to each other as this, it is not the recording that leaves things open
    on_deg = 0.1  # a turning point that was solved for lies this near its limit
    least_correction_deg = 4.0  # below this a drift correction is too small to speak of shares of it
    about_all_share = 0.25  # nearer to the whole correction than this, degrees say more than a share
    like_deg = 3.0  # banks within this of one another are said as one
    across_sd_nm = 0.02  # positions are this good across the radial; with a file's fix nothing else adds to it
    abeam_share = 0.9  # the fix was passed abeam where so much of the distance to it lay across the course
    one_place_nm = 0.3  # circuits that came back this near to one another came back to one place
    steady_s = 5.0  # wings level on the inbound course is looked for so long before the turn
    along_deg = 25.0  # an arrival within this of the inbound course turns outbound as any other circuit does
    circle_deg = 300.0  # a full circle, but for what the next turn takes of it
    read_out_nm = 2.0  # from here on a distance is one that is read off


class NEXT:
    """What to do differently next time."""

    # The heading over the fix is read this long before passing it: a hand is quicker than a turn is seen.
    steady_s = 3.0
    # A rule of thumb that comes this near, in bands of what is called good, is worth remembering for the next wind.
    near_bands = 0.6
    least_correction_deg = 3.0  # below this an inbound correction is too small for a multiple of it to say much
    least_leg_s = 20.0  # no correction is told of a shorter leg inbound
    enough_ratio = 1.1  # fewer changes are enough that leave no more of the miss than so many times what all do
    correction_multiple = 3.0  # triple the inbound correction outbound where the regime names no multiple


class DRAWN:
    """Paths drawn beside the flown one."""

    # Points of a path to draw: fix to turn, outbound turn, outbound leg, inbound turn, inbound leg.
    points = (3, 24, 12, 24, 24)
    least_turn_deg = 30.0  # a hold's turn is never shorter than this, nor slower
    least_rate_dps = 0.3
