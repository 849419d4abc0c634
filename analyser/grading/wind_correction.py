"""Judging the correction for wind: the outbound heading against the exact circuit's."""

from __future__ import annotations

import math
from functools import partial

from analyser.grading.lap import Lap
from analyser.grading.measures import Measures
from analyser.grading.score import Score, not_judged, scored
from analyser.grading.terms import LEG_UNKNOWN

UNIT = "°"


def judge_wind_correction(lap: Lap, measures: Measures) -> Score:
    """Judge the outbound heading.

    Returns
    -------
    Score
        Outbound heading minus the reciprocal of the inbound course, positive right.
    """
    tolerance, exact, leg = lap.standard.heading, lap.ideal.circuit, lap.circuit.outbound_leg
    rule = f"exact circuit for the wind met; tolerance: {tolerance.source}"
    unjudged = partial(not_judged, unit=UNIT, tolerance=tolerance.tolerance_deg, rule=rule)
    if leg is None or measures.outbound_correction_deg is None:
        return unjudged("no outbound leg")
    if lap.circuit.inbound_turn is None:
        # Nobody knows whether this was still the hold or already the way out of it.
        return unjudged("broken off on the outbound leg")
    if lap.in_hole(leg.start_s, leg.end_s):
        return unjudged("the log has a hole on the outbound leg")
    if not exact.closes:
        return unjudged(exact.why_not, value=measures.outbound_correction_deg)
    if not lap.flown.leg_known:
        # The longer the leg, the less correction is right on it.
        return unjudged(LEG_UNKNOWN, value=measures.outbound_correction_deg)
    return scored(
        lap.scoring,
        value=measures.outbound_correction_deg,
        target=exact.outbound_correction_deg,
        tolerance=tolerance.tolerance_deg,
        unit=UNIT,
        sd=math.hypot(leg.heading_sd_deg, lap.ideal.outbound_heading_sd_deg),
        how=lap.how("heading"),
        rule=rule,
        note="" if exact.exists else exact.why_not,
    )


def judge_inbound_correction(lap: Lap, measures: Measures) -> Score:
    """Compare the mean inbound heading with what holds the course; shown, but given no weight.

    Returns
    -------
    Score
        Mean inbound heading minus the course, positive right.
    """
    tolerance, exact, leg = lap.standard.heading, lap.ideal.circuit, lap.circuit.inbound_leg
    rule = f"wind triangle on the inbound course; tolerance: {tolerance.source}"
    unjudged = partial(not_judged, unit=UNIT, tolerance=tolerance.tolerance_deg, rule=rule)
    if leg is None or measures.inbound_correction_deg is None:
        return unjudged("no inbound leg")
    if lap.in_hole(leg.start_s, leg.end_s):
        return unjudged("the log has a hole on the inbound leg")
    if not exact.closes:
        return unjudged(exact.why_not, value=measures.inbound_correction_deg)
    drift_sd = math.degrees(lap.circuit.wind_sd_kt / max(lap.circuit.tas_kt, 1.0))
    return scored(
        lap.scoring,
        value=measures.inbound_correction_deg,
        target=exact.inbound_drift_correction_deg,
        tolerance=tolerance.tolerance_deg,
        unit=UNIT,
        sd=math.hypot(leg.heading_sd_deg, drift_sd, lap.flown.course_sd_deg or 0.0),
        how=lap.how("heading"),
        rule=rule,
        note="includes the heading changes that met the course again",
    )
