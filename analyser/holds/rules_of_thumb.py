"""What the rules of thumb say, each with the rule that gave it; and by how much each is out in this wind."""

from __future__ import annotations

import math

from analyser.frozen import dataclass
from analyser.holds.exact import ExactCircuit
from analyser.rules.load import load_thumb_rules
from analyser.rules.regime import Allowances
from analyser.rules.thumb import MultipleRule, ThumbRule, TimeRule


@dataclass(frozen=True)
class Thumb:
    """A number by a rule of thumb, in degrees or seconds, with the rule that gave it."""

    value: float
    unit: str
    rule: ThumbRule


def _bank_for_rate_one(tas_kt: float) -> Thumb:
    """Return the bank for rate one by the tenth of the airspeed, degrees."""
    rule = load_thumb_rules().bank
    return Thumb(tas_kt / rule.divisor + rule.addend_deg, "°", rule)


def outbound_time(still_air_s: float, outbound_headwind_kt: float, *, half: bool = False) -> Thumb:
    """Return the outbound time by a second (``half``: half a second) per knot of headwind, never below zero."""
    rules = load_thumb_rules()
    rule: TimeRule = rules.time_half if half else rules.time_full
    return Thumb(max(0.0, still_air_s + rule.seconds_per_kt * outbound_headwind_kt), "s", rule)


def clock_code_drift(wind_along_kt: float, wind_cross_kt: float, tas_kt: float) -> Thumb:
    """Return the inbound correction by maximum drift and clock code: degrees, positive right; wind TOWARDS."""
    rule = load_thumb_rules().clock_code
    wind_kt = math.hypot(wind_along_kt, wind_cross_kt)
    share = min(1.0, _angle_off_deg(wind_along_kt, wind_cross_kt) / rule.full_at_deg)
    return Thumb(-math.copysign(rule.factor * wind_kt / tas_kt * share, wind_cross_kt), "°", rule)


def small_angle_drift(wind_along_kt: float, wind_cross_kt: float, tas_kt: float) -> Thumb:
    """Return the inbound correction by angle off × wind / TAS: degrees, positive right; wind TOWARDS."""
    wind_kt = math.hypot(wind_along_kt, wind_cross_kt)
    drift = _angle_off_deg(wind_along_kt, wind_cross_kt) * wind_kt / tas_kt
    return Thumb(-math.copysign(drift, wind_cross_kt), "°", load_thumb_rules().small_angle)


def outbound_correction(inbound_correction_deg: float, rule: MultipleRule) -> Thumb:
    """Return the outbound correction by a multiple of the inbound one, to the other side: degrees, positive right."""
    return Thumb(-rule.multiple * inbound_correction_deg, "°", rule)


def triple_then_single(inbound_correction_deg: float, outbound_s: float) -> Thumb:
    """Return the mean outbound correction of tripling for a minute, then correcting once: degrees, positive right."""
    rule = load_thumb_rules().triple_then_single
    first_s = min(rule.first_s, outbound_s)
    rest_s = outbound_s - first_s
    mean = rule.multiple
    if outbound_s > 0.0:
        mean = (rule.multiple * first_s + rule.after_multiple * rest_s) / outbound_s
    return Thumb(-mean * inbound_correction_deg, "°", rule)


def next_outbound_time(last_outbound_s: float, measured_inbound_s: float, wanted_inbound_s: float) -> Thumb:
    """Return the next outbound time from what the last inbound leg measured, seconds, never below the rule's least."""
    rule = load_thumb_rules().feedback
    value = last_outbound_s + (wanted_inbound_s - measured_inbound_s)
    return Thumb(max(rule.least_s, value), "s", rule)


def gate() -> Thumb:
    """Return the bearing of the fix off the inbound course at which to turn in, degrees."""
    rule = load_thumb_rules().gate
    return Thumb(rule.angle_deg, "°", rule)


def _angle_off_deg(along_kt: float, cross_kt: float) -> float:
    """Angle between wind and course line, 0 to 90: head or tail does not matter to drift."""
    return math.degrees(math.atan2(abs(cross_kt), abs(along_kt)))


@dataclass(frozen=True)
class ThumbComparison:
    """One rule of thumb against the exact figure."""

    #: What the figure is: ``"bank"``, ``"outbound time"``, ``"inbound correction"``, ``"outbound correction"``,
    #: ``"gate bearing"``.
    what: str
    #: What the rule says; corrections are positive to the right.
    thumb: Thumb
    #: In the same unit.
    exact: float
    #: How near counts as good.
    band: float

    @property
    def error(self) -> float:
        """Rule of thumb minus exact."""
        return self.thumb.value - self.exact

    @property
    def good(self) -> bool:
        """Whether the rule holds in this wind."""
        return abs(self.error) <= self.band


def compared_with_thumb(
    exact: ExactCircuit, *, still_air_s: float, allowances: Allowances
) -> tuple[ThumbComparison, ...]:
    """Set each rule of thumb beside an exact circuit that closes.

    ``still_air_s`` is the outbound time that would be flown without wind; the regime's allowances of timing and heading
    are the bands.
    """
    rules = load_thumb_rules()
    inbound = exact.inbound_drift_correction_deg
    wind = (exact.wind_along_kt, exact.wind_cross_kt, exact.tas_kt)
    # Wind along the inbound course blows against the outbound leg.
    times = [outbound_time(still_air_s, exact.wind_along_kt, half=half) for half in (False, True)]
    times.append(feedback_after_one(exact, still_air_s))
    drifts = [clock_code_drift(*wind), small_angle_drift(*wind)]
    corrections = [
        outbound_correction(inbound, rules.double),
        outbound_correction(inbound, rules.triple),
        triple_then_single(inbound, exact.outbound_time_s),
    ]
    bank, bearing = _bank_for_rate_one(exact.tas_kt), gate()
    time_s, heading_deg = allowances.timing_s, allowances.heading_deg
    return (
        ThumbComparison("bank", bank, exact.bank_deg, rules.bands.bank_deg),
        *(ThumbComparison("outbound time", one, exact.outbound_timed_s, time_s) for one in times),
        *(ThumbComparison("inbound correction", one, inbound, heading_deg) for one in drifts),
        *(
            ThumbComparison("outbound correction", one, exact.outbound_correction_deg, heading_deg)
            for one in corrections
        ),
        ThumbComparison("gate bearing", bearing, exact.gate_bearing_deg, rules.bands.gate_deg),
    )


def feedback_after_one(exact: ExactCircuit, first_outbound_s: float) -> Thumb:
    """Return the outbound time, seconds by the clock, that feedback gives after one measuring circuit.

    The measuring circuit is flown with the exact outbound heading and ``first_outbound_s``; its inbound leg
    is then longer or shorter by what the outbound leg was, at the two ground speeds.
    """
    extra_s = first_outbound_s - exact.outbound_timed_s
    extra_nm = exact.outbound_along_kt * extra_s / 3600.0
    measured_s = exact.inbound_time_s - 3600.0 * extra_nm / exact.inbound_ground_speed_kt
    return next_outbound_time(first_outbound_s, max(0.0, measured_s), exact.inbound_time_s)
