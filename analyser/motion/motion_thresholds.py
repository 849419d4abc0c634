"""Every number by which motion is estimated: one row each with its value, what it stands for, and its source.

Units are in the names (``_s`` seconds, ``_m`` metres, ``_deg``, ``_dps`` degrees a second, ``_mps`` metres a second,
``_kt``, ``_ft``); ``_sd`` is in sigmas, ``_share`` a part of one. A remark above rows speaks of them in turn.
"""

from __future__ import annotations

# fmt: off


class STRETCH:
    """Which stretches of a log are flown without a hole."""

    least_hole_s = 15.0  # a longer time without a sample, and longer than three samples take, is a hole …
    longest_hole_s = 90.0  # … and one longer than this ends a stretch: nobody can say what was flown in it …
    # … unless the flight went straight on across it: in the direction and at the speed of the seconds before and
    # after, to so many degrees and this share. Longer than this no leg of a hold is (common practice).
    straight_deg = 8.0
    straight_share = 0.12
    straight_over_s = 12.0
    longest_straight_s = 240.0
    # … or turned once, between two straights: through so much, at a rate of turns in a hold, degrees a second. The
    # way of a leg may come out so much too short, as a share of the whole, for the wind that sets a turn is not
    # known. A hole longer than the last of these, has room for a lap; in one shorter than the first a smooth path is
    # near enough.
    turn_deg = (100.0, 280.0)
    turn_dps = (1.2, 4.5)
    turn_share = 0.25
    turn_hole_s = (60.0, 150.0)
    laid_out_s = 5.0  # the way across is laid out every so many seconds
    # Shorter than this, or in fewer samples, there is no room for a hold.
    shortest_stretch_s = 120.0
    fewest_samples = 8
    slowest_flight_kt = 20.0  # below this an aircraft is not flying and the direction of its movement means nothing


class SPLINE:
    """The path as a spline."""

    # Spectral density of the jerk of a manoeuvring aeroplane, m² s⁻⁵: 1 m/s³ for the four seconds of a roll, 0.2 m/s³
    # through a rate-one turn, about nothing on a leg. Common practice; the result depends on its sixth root.
    jerk_density = 0.2
    # Receiver noise, between which the noise seen in a log is believed.
    noise_floor_m = 0.2
    noise_ceiling_m = 60.0


class PATH:
    """The path fitted to positions and what is known of their errors."""

    # A sample that stands off the path by more than so many sigmas counts less, in proportion (Huber's weights).
    far_sd = 2.5
    # The solution's sigmas are worked out at so many instants at most, and this far apart at least.
    most_probes = 80
    probe_s = 4.0
    # In a hole the path is a guess: sigmas of its velocity, and acceleration, m/s².
    hole_velocity_kt = 8.0
    hole_acceleration_mps2 = 2.0


class LAYOUT:
    """Bank and turning laid out on the grid."""

    # Steeper than this in much of the turning, and the "turns" are corners of chords drawn by a recorder.
    steepest_bank_deg = 48.0
    # Nobody flies most of his turning as steeply as this in a hold; who does not bank more than the other is not
    # turning.
    unlikely_bank_deg = 45.0
    least_turning_bank_deg = 10.0
    # A corner between two chords is turned within less than this: half a circle at 60 degrees of bank takes longer at
    # any speed that holds are flown at.
    longest_corner_s = 6.0
    corners_share = 0.25  # more of the turning in such corners than this share, and nothing is told of any turn
    # Flying level is banking by less; a bank that nobody saw is known to so much, and no better than the last.
    level_bank_deg = 4.0
    unknown_bank_sd_deg = 30.0
    least_bank_sd_deg = 0.1


class ROLL:
    """How a roll shows in a path."""

    # Sideways acceleration of the made-up turn, m/s²: about that of a rate-one turn; only shapes matter.
    made_up_mps2 = 3.0


class REPORTED:
    """A ground speed and a track that the log reports."""

    # Positions are too rough to differentiate where their speed jumps this many times as much as the logged one, and
    # by this much more in any case, knots from second to second.
    rougher_ratio = 2.0
    rough_step_kt = 0.7
    alike_share = 0.05  # a reported ground speed is one if its median is within this share of the path's
    # A reported velocity is not believed beyond this: a knot of rounding and lag, a degree of track.
    least_speed_mps = 0.5
    least_track_deg = 1.0
    # Speed and path are compared over so long; a speed that is off by more than this share, rms, is not used, nor a
    # track that is off by so many degrees.
    share_over_s = 60.0
    worst_share = 0.1
    worst_track_deg = 20.0
    sure_lag_share = 0.7  # a lag of the reported speeds is believed where it leaves this share of the differences
    lag_over_s = 8.0  # … averaged over so many seconds
    # Fewer reported speeds than the first tell nothing; a lag is told by so many that are right to this share.
    fewest_speeds = 10
    fewest_sound = 20
    sound_share = 0.2
    reported_memory_s = 10.0  # errors of a reported velocity (lag, filter) last so long: nearer readings share them
    # A pilot's airspeed about the one held: at least this, with this memory, seconds (tens, common practice).
    held_kt = 3.0
    held_memory_s = 20.0
    other_speed_sd = 3.0  # where the path's airspeed is further off than so many sigmas, another speed was held
    held_every_s = 4  # the airspeed held is put in every so many seconds


class NOISE:
    """How a pilot's airspeed and the gusts wander."""

    # What the likelihood may choose between: memories of a pilot's airspeed, seconds (tens, common practice), and
    # shares of gusts and of white noise from none to most.
    slow_memories_s = (30.0, 16.0, 60.0)
    gust_shares = (0.0, 0.3, 1.0, 3.0)
    white_shares = (0.003, 0.03, 0.2)
    # In an untidy log, whose errors drown it, the pilot's wander is one of these …
    wanders_kt = (0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.7)
    # … usually this, and this factor more or less (one sigma).
    usual_wander_kt = 2.0
    wander_ratio = 1.6
    # Gusts are forgotten within this distance: 1,750 ft, the scale length of turbulence above 2,000 ft in MIL-F-8785C
    # (from memory).
    gust_length_m = 533.0


class CIRCLE:
    """The circle that ground velocities of a steady airspeed lie on."""

    # An airspeed that stands off the others by more than so many sigmas was not flown; a pilot's own wander is taken
    # for so many knots at least (common practice). A time that is wrong by seconds makes fifty.
    wild_sd = 4.0
    least_wander_kt = 5.0
    most_wild_share = 0.3  # beyond this share there is no telling which of the speeds are the wild ones


class WIND:
    """The wind's course in time."""

    piece_s = 120.0  # length of one straight piece of the wind's course in time: about half a circuit
    # Pieces grow longer where a hold lasts more than so many of them, two hours: the cost grows with their cube.
    most_pieces = 60
    # No fit of ground velocities knows the wind better than satellites tell a velocity: their ranges change by 6 mm/s
    # too much or too little in 95 % (GPS Standard Positioning Service Performance Standard 2020, section 3.4, from
    # memory), a position of poor geometry by six times that; one sigma, per axis, rounded up. Slower errors of a
    # position, metres in minutes, are less.
    receiver_kt = 0.05
    # The generalised fit and the plain circle weigh slow and quick changes differently, and agree where the noise is
    # what the model says. Where they part by this many sigmas, and this many knots besides, a log's speeds and
    # directions do not belong to the same instants, and what parts them is the sigma.
    doubt_sd = 4.0
    doubt_kt = 1.5
    # A feed that makes rows up smooths its speeds too, and no track shows by how much. The generalised fit stays the
    # nearer one, and this share of what parts it from the plain circle makes its sigma honest: chosen on generated
    # stacks whose speeds were smoothed over 0, 30 and 60 s.
    feed_doubt_share = 0.6
    # Of the wander of |v − w| this share may be gusts, which a mean airspeed does not hear of. An airspeed that was
    # logged has the pilot's own wander in it, so what is left of it about that is gusts.
    gust_share = 0.5
    # Memories of the remainder that the likelihood may choose between.
    memories_s = (6.0, 12.0, 20.0, 30.0, 45.0, 70.0)
    heading_error_deg = 20.0  # prior of a logged heading's constant error: the magnetic variation may be in it
    attack_deg = 6.0  # prior of the angle of attack that shows in a bank
    worst_wander_kt = 12.0  # a heading whose remainder across the nose wanders more than this is not used


class LIKELIHOOD:
    """What the likelihood chooses between."""

    # Change of wind per √piece that the likelihood may choose between, knots per axis.
    changes_kt = (0.05, 0.4, 0.8, 1.6, 3.2)
    # Rows are averaged over this time, and over more where a hold would have more than so many bins.
    bin_s = 6.0
    most_bins = 420
    least_freedom = 6.0  # a short hold is not given fewer degrees of freedom than this
    shear_kt_per_kft = 2.5  # prior of a wind shear, knots per axis per 1,000 ft: common practice, two to three
    # Prior of the mean wind, knots per axis: what weather does (common practice). A good log outweighs it a
    # thousandfold; a bad one should not be believed when it tells of a storm.
    wind_prior_kt = 25.0
    # Who arrives too fast slows down to the holding speed, and would turn the wind: by so many knots (one sigma),
    # within one of these times, from one of the instants so many seconds apart, so often at most. It is believed
    # where it is so much likelier than one speed held, as log odds: there are a hundred such instants, and one in
    # thirty does.
    speed_change_kt = 20.0
    speed_changes_s = (30.0, 60.0, 120.0)
    speed_change_step_s = 15.0
    most_speed_changes = 3
    speed_change_odds = 8.0
    steady_wind_place = 1  # place among the changes of the wind of the one that is taken for steady


class AIRDATA:
    """Logged heading, bank and airspeed held against the track."""

    least_filled_share = 0.8  # a channel must fill at least this share of a stretch to be used
    # A logged bank is held against the track's by its mean over so many seconds, and known between these.
    mean_over_s = 60
    bank_sd_deg = (0.15, 1.0)
    # Its bias shows on so many seconds of level flight. It follows the track where it is so like the track's bank and
    # goes by as many degrees for each of it; a lag of so many seconds, or a bias of as many degrees, is worth a word.
    level_s = 20
    least_correlation = 0.93
    bank_slopes = (0.8, 1.25)
    worth_a_word_deg = 1.5
    # A channel has so many values, and one within so many seconds of most of a stretch, this much beside it included.
    fewest_values = 5
    reach_s = 6.0
    beside_s = 5.0


class ESTIMATE:
    """The estimate of wind and airspeed as a whole."""

    wind_every_s = 2  # every how many grid seconds the wind fit takes a ground velocity: closer ones say nothing new
    near_s = 10.0  # logged channels are laid on the grid from so far beyond its ends, and more
    # Where the gap between two fixes is longer than this, and than so many usual ones, what lies between is in a
    # hole.
    hole_s = 6.0
    hole_gaps = 2.2
    hole_edge_s = 3.0  # so far beside a hole the smoother leans into it: no wind and no airspeed is read there
    # No mean airspeed is known better: a receiver that smooths its places over some two seconds draws a turn at rate
    # one about three metres too wide, 0.3 kt too fast, and half of a hold is turns (derived). Nothing shows it, so it
    # is allowed for as if one log in six were of such a receiver (common practice): 0.15 kt over the root of six.
    filtered_kt = 0.06
    shear_from_ft = 800.0  # where the height changed by more than this, the wind may change with it
    # Of two references for the airspeed the one is taken whose mean over so many seconds is known better.
    compared_over_s = 600.0
    # No weather is farther off the standard temperature: a column that is, is something else, or in another unit.
    weather_c = 40.0
    chorded_s = 12.0  # true samples further apart than this tell no bank and no instant of a roll


class SPEED:
    """Which of an airspeed's values count as flown."""

    # A speed counts as flown when it was held for most of this time: a pilot who looks at the needle sees it, and a
    # spike of the path's derivative, which is what one second's peak mostly is, does not move a median.
    sustained_s = 20.0
    # … and over so many true samples: one that is wrongly timed makes the path too quick before it and too slow after
    # it.
    sustained_samples = 4.0
    # An indicated airspeed derived from a true one stands on standard air; real air is warmer or colder by some 8 °C
    # (one sigma, common practice), and the root of 8 in 288 K is this share. It is off by the same all along, so it
    # matters where the speed is held against a limit, and not where it is held against itself.
    standard_air_sd = 0.014
    gusts_mean_out_s = 60.0  # over a minute gusts average out: they are forgotten within some ten seconds
