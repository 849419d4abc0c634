"""Every number by which a logbook tells a change from form, and one flight from another: a row each, and what it means.

Units are in the names (``_s`` seconds, ``_nm`` nautical miles, ``_deg``); ``_sd`` is one sigma, ``_share`` a part of
one. They are this project's own choice unless a row names a source. What a session has to reach stands in the rules and
the grade scales (:mod:`analyser.rules`).
"""

from __future__ import annotations

# fmt: off


class STANDING:
    """Where a pilot stands now, and how much points differ from circuit to circuit."""

    least_sessions = 3  # with fewer nothing is said of a pilot
    latest_sessions = 4  # so many of the latest say where a pilot stands; of entries, one a hold, twice as many
    # How much one circuit differs from the next where nobody's tell, points squared; with how many differences that is
    # held, a pilot's beside everybody's too; and the least, for points cannot be told apart more finely.
    unknown_noise = 64.0
    noise_weight = 10.0
    least_noise = 4.0
    usual_circuits = 4  # a whole hold's points do not tell over how many circuits they are a mean
    median_noise_ratio = 1.3  # a median of three circuits or more varies by so many times as much as their mean …
    median_sd_ratio = 1.25  # … and scatters by so much more: the root of half of pi
    least_scatter = 2.0  # sessions scatter by so many points at least
    usual_wind_share = 0.1  # wind over airspeed that points are brought to where no session tells its own


class TREND:
    """Whether an item changes over the weeks."""

    # Huber's tuning constant, 95 % efficient where the noise is normal, and the mean of z² for normal noise z, when it
    # is cut off there beyond it (P. J. Huber, Robust Statistics, from memory; checked by integration in the tests).
    tuning = 1.345
    efficiency = 0.95
    clipped = 0.7102
    fewest_sessions = 5  # with fewer no trend is spoken of
    fewest_others = 3  # with fewer other items an item is not looked at beside them
    fewest_for_wind = 4  # what wind costs is estimated from so many sessions beyond those that each line takes
    # How often anything may be said of a pilot in whom nothing has changed, of items by themselves and beside the
    # others: of both together not quite one in twenty. Most of it goes where most can be seen, beside the others.
    false_by_itself = 0.002
    false_beside = 0.045
    own_share = 0.5  # of a change beside the others, the least share that the item by itself must have gone
    # What one of a pilot's other items says of how an item goes beside the others counts to this power; by itself it
    # says nothing more than any pilot's, for what all items have in common is seen in each of them again.
    alike_beside = 0.25
    alike = 0.0
    prior_series = 5.0  # what is held before anybody flew weighs as much as so many series of sessions
    unknown_cost_sd = 100.0  # a wind of a fifth of the airspeed costs nothing, give or take 20 points
    without_ends_ratio = 1.1  # a mean without its highest and lowest scatters hardly more than the mean of all
    limits_sigmas = 1.96  # 95 % of a normal distribution


class LEANING:
    """Whether an instructor grades higher or lower than the points."""

    least_sessions = 5  # from so many sessions and grades on a lean is spoken of
    least_grades = 8
    false_words = 0.05  # how often any lean at all may be seen in a fair instructor
    # What is held of lean and scatter before any grade, in steps of a scale: weak, but it keeps both finite.
    lean_sd = 2.0
    scatter = 0.5
    scatter_log_sd = 0.7
    slip_share = 0.01  # everybody slips now and then: no grade is impossible


class SAME:
    """What makes two of a kind one: exercises, names, recordings of one flight."""

    # Two inferred holds are the same exercise when their fixes and courses differ by no more than this.
    fix_nm = 0.75
    course_deg = 6.0
    name_ratio = 0.85  # names so much alike may be one person's; sisters' and brothers' mostly are not
    time_share = 0.9  # share of the shorter recording's time that must lie within the other one
    least_common_s = 60.0  # with less in common nothing is concluded
    # Share of the common places that must agree, and how closely: two receivers in one cockpit, not two aircraft.
    places_share = 0.9
    place_nm = 0.05
    least_extent_nm = 0.3  # aircraft that stand beside each other agree all the time: something must have been flown
    length_s = 5.0  # recordings that differ by less are equally long
