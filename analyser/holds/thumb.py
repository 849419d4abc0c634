"""What the rules of thumb say: each gives its number, with the rule that gave it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyser.rules.load import load_thumb_rules
from analyser.rules.thumb import MultipleRule, ThumbRule, TimeRule


@dataclass(frozen=True)
class Thumb:
    """A number by a rule of thumb.

    Attributes
    ----------
    value : float
    unit : str
        ``"°"`` or ``"s"``.
    rule : ThumbRule
        Its name, words, source and standing.
    """

    value: float
    unit: str
    rule: ThumbRule


def bank_for_rate_one(tas_kt: float) -> Thumb:
    """Return the bank for rate one by the tenth of the airspeed.

    Parameters
    ----------
    tas_kt : float

    Returns
    -------
    Thumb
        Degrees.
    """
    rule = load_thumb_rules().bank
    return Thumb(tas_kt / rule.divisor + rule.addend_deg, "°", rule)


def outbound_time(still_air_s: float, outbound_headwind_kt: float, *, half: bool = False) -> Thumb:
    """Return the outbound time by seconds per knot.

    Parameters
    ----------
    still_air_s : float
        Time without wind.
    outbound_headwind_kt : float
        Wind along the course, positive against the outbound leg.
    half : bool
        Half a second per knot in place of one.

    Returns
    -------
    Thumb
        Seconds by the clock, never below zero.
    """
    rules = load_thumb_rules()
    rule: TimeRule = rules.time_half if half else rules.time_full
    return Thumb(max(0.0, still_air_s + rule.seconds_per_kt * outbound_headwind_kt), "s", rule)


def maximum_drift_deg(wind_kt: float, tas_kt: float) -> float:
    """Return the drift with the wind square to the course: 60 × wind / TAS.

    Parameters
    ----------
    wind_kt, tas_kt : float

    Returns
    -------
    float
        Degrees, positive.
    """
    return load_thumb_rules().clock_code.factor * wind_kt / tas_kt


def clock_code_drift(wind_along_kt: float, wind_cross_kt: float, tas_kt: float) -> Thumb:
    """Return the inbound correction by maximum drift and the clock code.

    Parameters
    ----------
    wind_along_kt, wind_cross_kt : float
        Wind TOWARDS, along the inbound course and to its right.
    tas_kt : float

    Returns
    -------
    Thumb
        Degrees, positive right of the course.
    """
    rule = load_thumb_rules().clock_code
    wind_kt = math.hypot(wind_along_kt, wind_cross_kt)
    share = min(1.0, _angle_off_deg(wind_along_kt, wind_cross_kt) / rule.full_at_deg)
    return Thumb(-math.copysign(rule.factor * wind_kt / tas_kt * share, wind_cross_kt), "°", rule)


def small_angle_drift(wind_along_kt: float, wind_cross_kt: float, tas_kt: float) -> Thumb:
    """Return the inbound correction by angle off × wind / TAS.

    Parameters
    ----------
    wind_along_kt, wind_cross_kt : float
        Wind TOWARDS, along the inbound course and to its right.
    tas_kt : float

    Returns
    -------
    Thumb
        Degrees, positive right of the course.
    """
    wind_kt = math.hypot(wind_along_kt, wind_cross_kt)
    drift = _angle_off_deg(wind_along_kt, wind_cross_kt) * wind_kt / tas_kt
    return Thumb(-math.copysign(drift, wind_cross_kt), "°", load_thumb_rules().small_angle)


def outbound_correction(inbound_correction_deg: float, rule: MultipleRule) -> Thumb:
    """Return the outbound correction by a multiple of the inbound one.

    Parameters
    ----------
    inbound_correction_deg : float
        Inbound heading minus course, positive right.
    rule : MultipleRule

    Returns
    -------
    Thumb
        Outbound heading minus the reciprocal, positive right: an inbound correction to the left is one to
        the right outbound.
    """
    return Thumb(-rule.multiple * inbound_correction_deg, "°", rule)


def triple_then_single(inbound_correction_deg: float, outbound_s: float) -> Thumb:
    """Return the mean outbound correction of tripling for a minute and then correcting once.

    Parameters
    ----------
    inbound_correction_deg : float
        Inbound heading minus course, positive right.
    outbound_s : float
        Length of the outbound leg.

    Returns
    -------
    Thumb
        Mean over the leg of outbound heading minus the reciprocal, positive right.
    """
    rule = load_thumb_rules().triple_then_single
    first_s = min(rule.first_s, outbound_s)
    rest_s = outbound_s - first_s
    mean = rule.multiple
    if outbound_s > 0.0:
        mean = (rule.multiple * first_s + rule.after_multiple * rest_s) / outbound_s
    return Thumb(-mean * inbound_correction_deg, "°", rule)


def next_outbound_time(last_outbound_s: float, measured_inbound_s: float, wanted_inbound_s: float) -> Thumb:
    """Return the next outbound time from what the last inbound leg measured.

    Parameters
    ----------
    last_outbound_s : float
    measured_inbound_s, wanted_inbound_s : float

    Returns
    -------
    Thumb
        Seconds, never below the rule's least.
    """
    rule = load_thumb_rules().feedback
    value = last_outbound_s + (wanted_inbound_s - measured_inbound_s)
    return Thumb(max(rule.least_s, value), "s", rule)


def gate() -> Thumb:
    """Return the bearing of the fix off the inbound course at which to turn in.

    Returns
    -------
    Thumb
        Degrees.
    """
    rule = load_thumb_rules().gate
    return Thumb(rule.angle_deg, "°", rule)


def _angle_off_deg(along_kt: float, cross_kt: float) -> float:
    """Angle between wind and course line, 0 to 90: head or tail does not matter to drift."""
    return math.degrees(math.atan2(abs(cross_kt), abs(along_kt)))
