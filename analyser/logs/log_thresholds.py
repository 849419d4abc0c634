"""Every threshold by which logs are read and mended: one row each with its value, what it stands for, and its source.

Units are in the names (``_s`` seconds, ``_m`` metres, ``_deg``, ``_dps`` degrees a second, ``_mps`` metres a second,
``_ft``, ``_kt``); ``_share`` is a part of one, ``_ratio`` so many times. A remark above rows speaks of them in turn.

They are this project's own choice, between what logs of flights show and what faults of them show, unless a row names a
source; the tests hold each from both sides where a log can show it. How much a log may hold before it is refused stands
in :mod:`analyser.logs.limits`.
"""

from __future__ import annotations

from typing import ClassVar

from analyser.earth.constants import DAY_S, MPS_PER_KT

# fmt: off


class MATCH:
    """How a logged channel is compared with the track."""

    enough_samples = 25  # fewer samples than this prove nothing
    one_turn_ratio = 3.0  # a bank whose mean is so many times as large as its deviation is that of one turn
    lag_margin = 0.04  # by how much a shifted channel must go better with the turns to count as one that lags
    steady_share = 0.08  # an airspeed that changes by a larger share than this has no mean to compare with
    fastest_turn_dps = 12.0  # in faster turning a heading is not compared
    outlier_sigmas = 4.0  # a difference of more sigmas is left out
    samples_alike = 10.0  # of neighbouring samples one in so many is independent
    # How far a heading lags shows where turns differ by so much, and so large a share of the flight is straight.
    straight_dps = 1.0
    straight_share = 0.05
    turns_apart_dps = 1.5
    # An eighth of the circle was flown in with so many samples, and that share of all; drift averages out over so
    # many.
    eighth_samples = 4
    eighth_share = 0.002
    all_round = 7
    # What a wind leaves unexplained of the ground speeds, as a share of the wind, where it is one.
    unexplained_share = 0.5
    # There are turns to compare a bank with where so many samples ask for so much; it is looked for so late at most.
    banked_deg = 8.0
    banked_samples = 12
    longest_lag_s = 12.0
    # A climb is compared over so many steps of this length at least, and where it goes so well with the altitude.
    climb_step_s = 20.0
    climb_steps = 8
    climb_correlation = 0.8


class CHANNEL:
    """Channels beside the track: frozen, lagging, in a wrong unit, of the wrong sign."""

    most_fills = 10  # what fills cells without a value is always the same, or one of a few
    frozen_s = 20.0  # a value unchanged for less than this is no frozen channel
    track_change_deg = 45.0  # what must have changed meanwhile, by the track, for a constant value to be called frozen
    bank_change_deg = 14.0
    speed_change_kt = 40.0
    # Speeds are steadier than directions, and jitter of positions in time makes theirs jitter: longer stretches.
    speed_frozen_s = 120.0
    least_samples = 5  # fewer samples of the track tell nothing of a stretch
    # An altitude that steps by more than this and faster than any aircraft climbs jumps.
    jump_ft = 400.0
    fastest_climb_ft_per_s = 300.0
    drift_deg = 4.0  # drift large enough to tell a heading from a track that is called heading
    lag_s = 2.5  # a channel that runs behind the track by more than this is not used
    # A speed over the ground that differs so much with direction, while with latitude and longitude swapped it
    # differs by less than this share of that, is no pilot's: he would fly a third faster along a parallel than along
    # a meridian.
    uneven_share = 0.1
    swapped_uneven_ratio = 1.0 / 3.0
    # Between two values no farther apart than so many intervals of the positions the time between is filled, …
    filled_intervals = 2.0
    longest_filled_s = 10.0  # … and never across more seconds than this
    frozen_most_share = 0.4  # a channel frozen for more of the time aloft than this is not used at all
    # From where the track has turned away by so much, or its bank, a value that stands still is wrong; a bank changes
    # by what lies between these percentiles.
    track_away_deg = 11.25
    bank_away_deg = 7.0
    bank_percents = (15, 85)
    # A speed by positions that jitter in time is averaged over so long, and an airspeed compared on tracks so near.
    speed_averaged_s = 30.0
    one_track_deg = 30.0
    # Speeds over the ground speed, median over a flight: height makes indicated less than true, wind does the rest.
    speed_ratios: ClassVar = {"ground_speed_kt": (0.92, 1.08), "ias_kt": (0.45, 1.6), "tas_kt": (0.65, 1.6)}
    track_off_deg = 6.0  # a logged track differs from the one by positions by less, median
    unit_near_share = 0.12  # so near to feet for metres, the ratio of climb and altitude tells of a wrong unit
    lag_sigmas = 3.0  # a heading lags by more than so many sigmas of the lag
    drift_share = 0.35  # a heading that shows less of the drift than this is the track
    scatter_deg = 25.0  # a heading that scatters by more about the track does not follow it
    # A bank lags by more than this; where it goes with the turns less well than this as it is, it goes with nothing.
    bank_lag_s = 3.0
    lagging_correlation = 0.26
    # A bank goes with the turns, or with their mirror image, where its correlation is more; and in its size between
    # these.
    bank_correlation = 0.35
    mirrored_correlation = 0.5
    bank_slope = (0.4, 2.2)
    impossible_share = 0.5  # where more of the values are impossible the unit is wrong
    # A direction, in so many eighths of the circle, is the mirror image of the movement where it is within so much of
    # it, and as it stands farther off by as much and so many times.
    mirror_eighths = 5
    mirror_deg = 20.0
    mirror_ratio = 2.5
    usual_interval_percent = 75.0  # where each third row is another sensor's, positions are one and two rows apart
    near_share = 0.25  # a value alone is brought to positions within this share of what is filled between two


class CLEANING:
    """What is left of a file: flights and holes in them."""

    scrap_samples = 10  # a flight of fewer samples is left out where the file holds a longer one
    shortest_hole_s = 5.0  # a stretch without samples that is no longer than this is no hole
    # … nor one of so many usual steps, or so many of the step that this percentile of them is below.
    hole_steps = 4.0
    hole_most_steps = 1.5
    most_steps_percent = 95
    # Accelerations to the side in aircraft's turns: of less than 1° of bank, so that slow wide circles stay as
    # they are written, and of 75°.
    sideways_mps2 = (0.12, 37.0)


class CLOCK:
    """Clocks that repeat, run backwards, leap or carry the wrong week."""

    # A forward step longer than this with no distance to match is a leap of the clock and no hole.
    leap_s = 1200.0
    # A clock that steps back at more than this share of the samples, while the aircraft flies on, is no clock to sort
    # by: its times are averaged over so many samples to either side.
    shaking_share = 0.1
    calmed_over = 30
    most_wrong_times = 5  # a run of more wrong times than this is no slip but a clock set wrong
    # Where this share of the steps runs backward no time is wrong: the rows are in no order.
    most_backward_share = 0.15
    # Beside a leap or a restart so many samples on either side tell how the aircraft flew, faster than this.
    beside_samples = 8
    flying_mps = 25.0 * MPS_PER_KT
    # A recorder that was started anew, with another clock, so often at most, found its aircraft ahead, to so many
    # degrees, and no farther than it flies in so many seconds: in a longer hole nobody can say what was flown.
    most_restarts = 3
    ahead_deg = 60.0
    longest_restart_s = 90.0
    # … while it goes on by more than half so many of the steps, either way, that this percentile of them is below.
    shaking_percent = 99.0
    outlier_sigmas = 3.0  # what a time is off by beyond this is not averaged in
    right_share = 0.25  # a time is right that is off by less than this share of the beat
    # Neighbours lie no farther apart than an aircraft flies in so many usual steps, and so many metres.
    near_steps = 5.0
    near_m = 50.0
    # A clock was set back where so few samples about a step back ran for less than they should by so many about it.
    lacks_samples = (4, 32)
    set_back_share = 0.75  # … or where the time between its neighbours is less than this share of so many steps
    run_ratio = 2.5  # between the neighbours of wrong times lies no more time than so many times their usual steps
    then_samples = 10  # where the aircraft was at a wrong time is read from so many on either side
    leap_way = (0.3, 4.0)  # over a leap of the clock the aircraft flies about one step, between these shares of it
    rolled_over_s = 3 * 365 * DAY_S  # a date 1,024 weeks before one within so long may be a lost count of weeks


class PACE:
    """Time that a recorder lost, or that a simulator ran faster: pauses, leaps of the path, rates."""

    # No aeroplane that flies a hold flies slower, nor stops from this speed within a few seconds.
    flying_kt = 50.0
    # A shorter pause is a stutter of the recorder, nor is one shorter than so many usual intervals told from
    # a lost row; after a longer one a flight is another flight.
    least_pause_s = 4.0
    least_intervals = 3.5
    longest_pause_s = 1800.0
    # Standing is moving by less than this share of a usual step: the last digits of a place may go on changing.
    standing_share = 0.03
    # Over a pause the aircraft covered less than this share of the way that the time was long enough for, and no more
    # than it flies in so many usual intervals.
    covered_share = 0.3
    onward_intervals = 4.0
    # It flies on in the direction it flew before, or has turned on meanwhile as in a turn of a little more
    # than rate one, for two usual intervals (which takes it off a straight line by this acceleration, m/s²), and at
    # the same speed, to this share and the last one times the sine of half the angle that it turned: what a turn
    # changes the ground speed by, at the most, in a wind of 0.3 of it.
    same_track_deg = 12.0
    turning_dps = 4.0
    turning_mps2 = 4.0
    same_speed_share = 0.15
    turned_in_wind_share = 0.6
    beside_m = 30.0  # it goes on from its own track, to so many metres beside it and a tenth of the way covered
    # A speed is read over so many times what positions are rounded to (to a tenth, where a rate is a factor of two),
    # and over so many of the steps that the clock counts in.
    speed_way_steps = 5.0
    clock_steps = 10.0
    # Speed and track before and after are read over so many steps, and more of them where positions are rounded, so
    # that they cover so many times what is rounded to: that leaves them known to a twentieth.
    around_steps = 4
    rounded_way_steps = 8.0
    # Rates that simulators offer (common practice); the least, for a change of speed by a smaller factor may be a
    # tailwind or a throttle; and how far the rate may be off the one measured at either end.
    offered_rates = (0.25, 0.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 16.0, 32.0, 64.0)
    least_rate = 1.7
    rate_off_share = 0.15
    # Within accelerated time and beside it speeds change from step to step by no more than this share, rms: where a
    # clock or positions make them swing, a swing is no rate.
    steady_share = 0.12
    # Where a log ends at another rate than it began at, its speeds differ by that factor, and this share for wind.
    wind_share = 0.6
    # Fewer rows tell no rate; speeds are read over steps of at least about so many seconds.
    least_rows = 5
    least_step_s = 0.5
    # A step of so many times the usual way, and by so many sigmas of what the way from step to step changes by
    # itself, lost time, where the steps around it are alike to this share and it goes straight on, to so many
    # degrees; and no more often than this: what jumps again and again is a receiver that filters or repeats
    # positions.
    jumped_ratio = 1.6
    beyond_noise_sigmas = 6.0
    even_share = 0.12
    ahead_deg = 8.0
    most_jumps = 3
    # A change of speed from step to step that no aeroplane makes along its track, however its places err; and
    # one that none makes which flew evenly before and flies evenly after: a fifth of g along the track.
    impossible_mps2 = 12.0
    unlikely_mps2 = 2.0
    # Even are so many steps as speeds are read over that differ by no more than this share of their median; and
    # straight, for who turns round in the wind changes speed, too, where both differ by less than so many degrees.
    level_share = 0.25
    straight_deg = 45.0
    beside_share = 0.1  # … and so much of the way over the pause
    hole_ratio = 4.0  # steps among which one is so many times as long as the others tell no speed
    least_beside = 3  # … nor do fewer on either side
    # Where positions are rounded speeds change from step to step by so many times what that does alone.
    rough_swings = 1.5
    still_mps = 0.1  # slower counts as this where a share of it is taken


class FLIGHTS:
    """Which rows are one flight of one aircraft."""

    parting_s = 1800.0  # a hole longer than this parts two flights: longer than any hold's circuit by far
    pause_s = 600.0  # recorders that pause go on within this time …
    # … and within what an airliner flies meanwhile, m/s and m.
    fastest_mps = 300.0
    beyond_m = 500.0
    # Samples of one time farther apart than this, and as many as this are another aircraft's.
    elsewhere_m = 2_000.0
    elsewhere_samples = 20
    most_at_once = 20  # more aircraft at one time than this are noise
    look_back = 50  # a flight is joined to one of so many begun before it
    # Places of one time are the same when most lie no farther apart than this.
    same_m = 30.0
    most_apart_m = 120.0
    shared_m = 200.0  # two tracks are parts of one flight where one repeats so much of the other's way
    inside_share = 0.8  # so much of the shorter flight must lie inside the longer one
    longest_gap_s = 30.0  # between samples farther apart than this nothing is compared
    compared_samples = 500  # so many samples are compared


class RECEIVERS:
    """Several receivers, or clocks, in one log of sentences."""

    far_deg = 0.01  # places of one instant farther apart than this are not one aircraft's
    # Two receivers take turns where so large a share of the sentences of one kind follows another talker's.
    in_turns_share = 0.3
    in_turns_samples = 20  # fewer samples in turns tell nothing
    open_instants = 4  # so many instants may still be told of
    # The clock of one receiver goes back less often than this. Of two, each goes on by no more than so many usual
    # steps within so many instants, or after a pause no longer than this. More stretches of time than this
    # are noise.
    backward_share = 0.05
    onward_steps = 5.0
    lately_instants = 20
    pause_s = 1800.0
    most_chains = 500


class MOVED:
    """How an aircraft moves over the ground, by its positions."""

    # Length of the line that gives a velocity, seconds (longer where the log is slower), and how many are enough.
    line_s = 4.0
    enough_samples = 4000
    # Turning is read from one chord of so many metres to the next, and not where they have to be longer than the
    # second.
    chord_m = 300.0
    longest_chord_m = 1200.0
    flying_kt = (30.0, 900.0)  # ground speeds that flying aircraft have
    taxi_kt = 35.0  # who moves faster than this flies
    # A typical speed of the faster half of a flight is this percentile, over so many rows each: clocks and places
    # jitter.
    usual_speed_percent = 75
    speed_over_rows = 20
    hole_ratio = 3.0  # a line so many times as long as usual spans a hole


class PLACES:
    """Positions: rounded, frozen, made up, jumping."""

    zero_deg = 0.01  # nearer to 0°N 0°E than this is a receiver without a fix
    moving_kt = 25.0  # moving faster than this a repeated position is a stale one
    # From a rounded position to the next one it is no farther than this many steps of the rounding: a diagonal and a
    # half.
    next_place_steps = 2.2
    # A feed goes straight on for at least so many even steps beyond the first two, and jumps back so far aside of the
    # tracks before and after; positions rounded to more than this, do not tell, nor where more than this
    # share of all steps is even.
    coast_rows = 3
    coast_ends_deg = 20.0
    coast_seen_m = 3.0
    coast_most_share = 0.25
    coast_jump_ratio = 2.0  # … or so many times as fast as before and after
    # So far from where it goes on straight an aircraft is at most that turns at rate one for a minute, as a share of
    # the way (derived: √(1 + (2/π)²), and a little for the wind).
    coast_away_share = 1.25
    # Nor does a feed go on for longer without a word of the aircraft, seconds (common practice: a few turns of a
    # radar).
    coast_lasts_s = 60.0
    off_line_m = 60.0  # a sample farther than this from the line between its neighbours may be a spike …
    acceleration_mps2 = 30.0  # … widened by what an acceleration of about 3 g does between samples
    reach_m = 150.0  # a step this much longer than the speed round about explains is a jump
    # Blocks between jumps: shorter than this, and of fewer samples, they are spikes and not another flight.
    spike_s = 30.0
    spike_samples = 20
    most_spikes_share = 0.1  # largest share of samples that may be single spikes
    # More jumps than this are noise; also how many blocks are gone through before the rest is left out.
    most_blocks = 20_000
    look_back_blocks = 60  # how many blocks back a block may be joined to
    jitter_sigmas = 4.0  # samples this many sigmas of the clock's jitter early or late are still the aircraft's
    # A sample may be so early or late on its aircraft's own path, and within so many rows.
    along_s = 15.0
    along_rows = 20
    # Who lagged behind jumps straight on, so many degrees beside the track over so many steps on either side.
    ahead_deg = 15.0
    beside_steps = 4
    most_misplaced = 8  # more samples in a row than this are not early or late: something else is wrong with them
    fastest_mps = 620.0  # no aircraft that flies holds is faster over the ground (1,200 kt)
    around_steps = 5  # the speed round about a step is a median of so many on either side
    missing_share = 0.02  # fewer rows without a position are another sensor's, and not told of
    frozen_s = 3.0  # what repeats for longer froze; shorter, the receiver is slower than the log
    even_m = 0.1  # beside the rounding of places, how much even steps may differ
    detour_ratio = 1.5  # a spike makes the way so many times as long as the one past it, a corner hardly
    turning_s = 20.0  # nothing accelerates one way for longer
    least_jitter_s = 0.3  # of a clock is believed in any log
    reach_ratio = 1.3  # beside samples early or late the path goes on, up to so many times as fast
    between_share = 0.6  # so much of a step may lie between a place on a path and the nearest sample of it
    faster_mps = 40.0  # a step may be twice as fast as round about, and so much more
    swapped_range_deg = 20.0  # no flight is so long


class SETTLING:
    """Units and references that a file leaves open, settled against the flight."""

    too_high_m = 20_000.0  # above this no aircraft holds in metres: 20,000 m is FL656
    too_steep_slope = 0.27  # climb angle no holding aircraft keeps, as a slope (15°)
    # How near the ratio to the ground speed must come, and how little it may scatter.
    near_share = 0.04
    scatter_share = 0.1
    climb_near_share = 0.25  # the same for a vertical speed and the rate of the altitude
    # The same for an airspeed, which wanders: less than half of what parts knots from miles per hour.
    airspeed_near_share = 0.06
    # The year whose variation stands in where a log has no date; it changes by a tenth of a degree or two a year.
    undated_year = 2025.0
    # An altitude of so many levels at least, all multiples of this, is an encoding altimeter's.
    encoder_levels = 4
    encoder_ft = 25.0
    # The steepest slope is this percentile, where the aircraft is faster than this.
    slope_percent = 95
    slope_kt = 50.0
    direction_off_deg = 35.0  # a direction differs from the track by less than this, for drift, in its own unit
    # A bank is in degrees or radians where it goes so well with the turns, and is up to so many times what they took.
    bank_correlation = 0.5
    bank_ratio = 2.0
    temperature_off_c = 25.0  # from the standard atmosphere
    no_variation_deg = 1.5  # where variation is less, a heading is true for all that matters
    # Over all directions a heading differs from the true or magnetic track by less than this, and from the other by
    # this share of the variation more.
    reference_off_deg = 2.5
    variation_share = 0.6


class COORDINATES:
    """Positions as a table writes them: degrees, sixtieths, radians."""

    # Two sensors of one aircraft are never so far apart; what changes less is a place.
    apart_km = 2.0
    moves_deg = 0.01
    most_share = 0.95  # what nearly all positions have in common tells their form: a few rows may be damaged
    # So many rows are looked at, and so many different minutes and whole seconds without one above 59 are no chance.
    minutes_seen = 3
    seconds_seen = 25
    speed_rows = 20_000  # so many rows tell whether a ground speed fits
    # How near 60' and the next degree the ends of a step must lie; and how near a speed the logged one.
    seam_deg = 0.02
    near_speed_share = 0.04


class TIMES:
    """Clocks as columns of text or numbers."""

    oldest_s = 631_152_000.0  # no log is older: 1990-01-01 …
    ahead_s = 2 * DAY_S  # … and none this far in the future; a count since 1970 gives no date after 2100
    last_s = 4_102_444_800.0
    years = (1990.0, 2100.0)
    first_short_year = 80  # years of two digits are those from 1980 on
    longest_log_s = 60 * DAY_S
    flight_days = 3.0  # a count of days does not run on for so many
    # Any other count must give a date from 2005 on: older logs of such recorders are not expected.
    earliest_s = 1_104_537_600.0
    # So many of the numbers tell nothing, where they lie so many times as far off as all others are apart.
    stray_percent = 2.0
    stray_far_ratio = 20.0
    slowest_s = 3600.0  # no log is written more slowly
    no_start_s = 1800.0  # no count of hours or minutes from a log's own start begins so late
    least_in_a_minute = 6  # fewer rows of one minute may as well be other aircraft's
    # Offsets from UTC are so many seconds at most, and a quarter of an hour at least.
    farthest_offset_s = 14 * 3600.0
    quarter_s = 900.0
    past_noon_s = 60.0  # a clock that shows 1:00 after 12:59 falls back by half a day, so nearly
    # Rows are spread over minutes that hold as many of them, to this share, where there are so many minutes.
    uneven_rows_share = 0.05
    least_minutes = 4
    # A column of times is coarse where so large a share of its rows repeats, and another one fine where less does.
    coarse_share = 0.3
    fine_share = 0.05
    # Steps over a full minute stand out by 40 where as many numbers are there, to this share of the usual step, or
    # this.
    seam_numbers = 20
    uneven_share = 0.1
    most_uneven = 20.0


class ERRORS:
    """How a track errs: rows made up between samples, a clock that wanders, places that scatter."""

    flying_mps = 12.0  # slower than this an aircraft taxies
    # Turn rate from which a row counts as in a turn, a quarter of rate one, read from so long before it to so long
    # after.
    turning_dps = 0.7
    turning_over_s = 15.0
    # From fewer rows in turns nothing is said about interpolation; one tells whether it was interpolated where a
    # turn's arc stands off its chord by so many tolerances.
    least_turning_rows = 12
    sagitta_tolerances = 4.0
    # A log is interpolated where this share of the rows in turns lies on its neighbours' line: none would.
    interpolated_share = 0.25
    on_line_m = 0.05  # rounding in the making of an interpolated row, beside that of the log's own digits
    # Where rows are nearer, made-up ones are looked for among rows so many seconds apart, too, if positions are
    # rounded to more than so many metres: (metres, seconds).
    apart_m_s = ((0.0, 1.0), (0.5, 2.0), (0.5, 3.0))
    # No turn of a hold hides in a chord longer than this (and longer than so many usual gaps, where those are long
    # themselves): rows well inside such a chord, so far from its ends, are kept as anchors.
    long_chord_s = 45.0
    long_gaps = 1.5
    chord_ends_s = 15.0
    acceleration_mps2 = 0.15  # a pilot's own changes of speed along the track, rms: not to be taken for a clock's
    widest_deg = 60.0  # three samples that turn by more than this tell nothing about the clock
    # Along-track errors below this are no clock's: receivers err so much; nor is a jitter below this told from a
    # pilot who plays with the throttle; nor are errors that are hardly larger than those across the track.
    least_along_m = 3.0
    least_jitter_s = 0.1
    along_over_across = 1.5
    rough_m = 8.0  # satellite navigation scatters less from sample to sample; beyond this a track is rough
    # Between samples no further apart than this no roll shows: what changes across the track is all noise. Samples
    # further apart than the other cannot tell a position's noise from a turn, and are as right as surveillance says
    # of a good position: within 30 m in 95 % (navigation accuracy category 9, RTCA DO-260B, from memory), per axis,
    # one sigma.
    fine_s = 1.5
    coarse_s = 15.0
    navigation_m = 12.3
    # Uncompensated latency that a surveillance position may have (14 CFR 91.227(e), from memory), taken for two
    # sigmas. A feed that makes rows up between true samples writes whole seconds for them at best (common practice).
    latency_s = 0.6
    # Three samples that turn by less than this lie on a straight leg, where what stands off across is all noise. So
    # does one around which the track turns no faster than half as fast as in a turn, from so long before it to so
    # long after: places have to err by a quarter of a mile to seem to turn. From fewer of them nothing is read.
    straight_deg = 3.0
    calm_dps = 0.35
    calm_over_s = 25.0
    least_straight = 8
    # A lag that slips and stays shows between samples so far apart and not between neighbours; on straight legs,
    # where no wind that is turned through changes the speed; beyond what gusts and a throttle do in that time (3 kt
    # for 10 s; common practice), and so many times the jitter from sample to sample and the noise of places, which
    # show there too.
    slips_over_s = 10.0
    slips_widest_deg = 10.0
    least_slips_m = 45.0
    slips_over_jitter = 1.6
    slips_over_noise = 2.0
    # Of errors that rows have each for itself less than this share is left in the mean of those in that time.
    slips_left_share = 0.48
    # An error that is forgotten within the time between two samples is seen there at three quarters of its size, and
    # averages out as if it were half as large again (Ornstein and Uhlenbeck's process; derived): twice as much. Rows
    # that such a feed loses at its leaps make it this (swept on lags that are drawn anew every dozen seconds).
    slips_shared_ratio = 2.5
    least_rows = 12  # fewer rows, or fewer triples of them in flight, tell nothing
    least_used = 10
    least_spacing_s = 0.5  # nearer to one another, neighbours err alike
    least_gaps = 4  # fewer gaps in turns do not tell how far true samples lie apart
    decimal_share = 0.99  # values are rounded where so many of them are multiples of a step
    hole_ratio = 4.0  # a step so many times as long as usual is a hole
    bend_ratio = 1.5  # a row was made up where it stands off the line by this much of what a parallel bends
    # Chords meet between two rows where none reaches beyond its end for more times the gap, nor so near to either
    # row.
    corner_ratio = 1.2
    corner_share = 0.05


class LOOK:
    """How much of a file is looked at to tell what it is, and shown of it."""

    point_names = 100  # so many names tell whether an object is a point
    json_lines = 20  # so many lines tell whether each is a text of its own
    kml_arrays = 40  # so many arrays of extended data are looked at
    header_letters = 200  # so much of a header is looked at
    word_letters = 5  # words of other languages so long are found inside a run of letters
    most_digits = 300  # numbers of more digits are none
    cut_off_share = 0.01  # so small a share of a column's cells may be cut off
    nested_objects = 3  # how deep objects inside objects lend their names
    # Names beyond the first so many must come so often among so many samples.
    first_names = 50
    often_named = 3
    empty_rows = 1_000  # so many empty rows end a sheet, whatever size it claims
    sheets = 20
    formula_rows = 30  # formulas are looked for in so many rows
    layout_bytes = 400_000  # the layout is found in so many bytes
    header_bytes = 4_000  # a header and the units below it take no more bytes
    fastest_step_ft = 1000.0  # no aircraft changes its level by more from one row to the next
    head_lines = 1_000  # the header stands within so many lines, or nowhere
    header_candidates = 200  # no recorder writes more lines that look like a header before the header
    after_header_lines = 10  # a better header is looked for so many lines below a good one
    header_digits = 3  # a header's words have no more digits: times and positions have
    units_within_lines = 8  # the units stand within so many lines below the header, or right above it
    layout_rows = 50  # so many rows are looked at
    changing_rows = 10_000  # so many rows tell whether a position or a time ever changes
    number_cells = 50  # so many cells tell whether a column holds numbers
    moment_letters = 120  # no moment is written in more letters
    point_fields = 60  # most values that one point is asked for
    # Content is recognised from so many bytes; sentences among binary messages are looked for in so many.
    head_bytes = 64_000
    between_bytes = 1_000_000
    name_letters = 120  # how much of a name from a log is shown
    label_letters = 40  # of a label within a sentence
    last_hour = 47  # some recorders count hours on over midnight
    first_rows = 200  # so many rows tell what the numbers of a whole log are, if any of them does
    cell_letters = 200  # no position is written in more letters
    named = 5  # so many of many are named
    later_words = 200  # so many words in a column of latitudes are looked at for later headers
    small_unit_ft = 10.0  # heights and lengths in feet or metres, whose units are smaller than this
    heights_ft = (100.0, 100_000.0)  # no hold is flown lower or higher
    quoted_bytes = 20_000  # how a spreadsheet quotes cells shows in so many bytes
    # Commas part thousands or decimals and columns where more rows than this are too wide, or this share has whole
    # degrees.
    wider_rows = 5
    cut_share = 0.8
    # A unit within a header is of so many words at most; a header of more words names nothing.
    unit_words = 4
    header_words = 10
    # A text's character set shows in so many bytes: UTF-16 where so many at one parity are zero and few at the other.
    encoding_bytes = 4_000
    zeros_most = 0.3
    zeros_least = 0.1
    broken_ratio = 5  # a text is still UTF-8 where so many times its sound signs are more than those that are broken
    # Content is no text where, of so many bytes, so large a share are not plain beside zeros, or control bytes.
    binary_bytes = 8_000
    unplain_share = 0.05
    strange_few = 2
    strange_share = 0.005
