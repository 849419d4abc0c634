"""Judging the leg that the rules limit: outbound time by ICAO, inbound time by the FAA, or an outbound length."""

from __future__ import annotations

import math

from analyser.grading.lap import Lap
from analyser.grading.measures import Measures
from analyser.grading.score import Score, not_judged, scored
from analyser.holds.target import leg_minutes


def judge_timing(lap: Lap, measures: Measures, altitude_ft: float) -> Score:
    """Judge the timing by the regime's own clock and target.

    Parameters
    ----------
    lap : Lap
    measures : Measures
    altitude_ft : float
        For the leg time by altitude.

    Returns
    -------
    Score
        In seconds; in nautical miles for a leg limited by distance.
    """
    minutes = leg_minutes(lap.flown.hold, lap.regime, altitude_ft)
    unit = "NM" if minutes is None else "s"
    if lap.cut_short:
        return not_judged("cut short or drawn out to leave on time", unit=unit)
    if minutes is None:
        return _length(lap, measures)
    if lap.regime.clock.fixes == "outbound":
        return _outbound(lap, measures)
    if lap.first:
        return _first_outbound(lap, measures, 60.0 * minutes)
    return _inbound(lap, measures, altitude_ft)


def _tolerance_s(lap: Lap) -> tuple[float, str]:
    if lap.standard.timing is not None:
        return lap.standard.timing.tolerance_s, lap.standard.timing.source
    return lap.regime.allowances.timing_s, f"tolerance: {lap.regime.allowances.source}"


def _outbound(lap: Lap, measures: Measures) -> Score:
    tolerance, source = _tolerance_s(lap)
    rule = f"{lap.regime.wind.source}; {source}"
    if measures.timed_s is None or measures.timed_sd_s is None:
        return not_judged("no outbound leg that ended in a turn", unit="s", tolerance=tolerance, rule=rule)
    exact, ideal = lap.ideal.circuit, lap.ideal
    if not exact.closes:
        return not_judged(exact.why_not, unit="s", value=measures.timed_s, tolerance=tolerance, rule=rule)
    by_abeam = measures.clock == "abeam"
    target = exact.outbound_timed_s if by_abeam else exact.outbound_time_s
    target_sd = ideal.outbound_timed_sd_s if by_abeam else ideal.outbound_time_sd_s
    since = "abeam the fix" if by_abeam else "wings level (abeam was not met)"
    return scored(
        lap.scoring,
        value=measures.timed_s,
        target=target,
        tolerance=tolerance,
        unit="s",
        sd=math.hypot(measures.timed_sd_s, target_sd),
        how="derived",
        rule=rule,
        note=_with_why(lap, f"outbound time from {since}"),
    )


def _first_outbound(lap: Lap, measures: Measures, target_s: float) -> Score:
    tolerance, source = _tolerance_s(lap)
    rule = f"{lap.regime.clock.source}; {source}"
    if measures.timed_s is None or measures.timed_sd_s is None:
        return not_judged("no outbound leg that ended in a turn", unit="s", tolerance=tolerance, rule=rule)
    return scored(
        lap.scoring,
        value=measures.timed_s,
        target=target_s,
        tolerance=tolerance,
        unit="s",
        sd=measures.timed_sd_s,
        how="derived",
        rule=rule,
        note="first circuit: the outbound leg is flown for the standard time; later ones are judged by the inbound",
    )


def _inbound(lap: Lap, measures: Measures, altitude_ft: float) -> Score:
    tolerance, source = _tolerance_s(lap)
    rule = f"{lap.regime.leg_step(altitude_ft).source}; {source}"
    duration, sd = measures.inbound_duration_s, measures.inbound_duration_sd_s
    if duration is None or sd is None:
        return not_judged("no inbound leg flown to the fix", unit="s", tolerance=tolerance, rule=rule)
    exact = lap.ideal.circuit
    if not exact.closes:
        return not_judged(exact.why_not, unit="s", value=duration, tolerance=tolerance, rule=rule)
    return scored(
        lap.scoring,
        value=duration,
        target=exact.inbound_time_s,
        tolerance=tolerance,
        unit="s",
        sd=sd,
        how="derived",
        rule=rule,
        note=_with_why(lap, "inbound time from wings level to the fix"),
    )


def _length(lap: Lap, measures: Measures) -> Score:
    length, leg = lap.scoring.length, lap.flown.hold.leg
    rule = f"{lap.regime.distance_leg.source}; tolerance: {length.source}"
    if leg is None or leg.distance_nm is None or measures.turn_in_nm is None:
        return not_judged(
            "no outbound leg that ended in a turn", unit="NM", tolerance=length.tolerance_nm, rule=rule
        )
    return scored(
        lap.scoring,
        value=measures.turn_in_nm,
        target=leg.distance_nm,
        tolerance=length.tolerance_nm,
        unit="NM",
        sd=lap.flown.fix_sd_nm or 0.0,
        how="derived",
        rule=rule,
        note="how far out the inbound turn began, whatever inbound leg results",
    )


def _with_why(lap: Lap, note: str) -> str:
    return note if lap.ideal.circuit.exists else f"{note}; {lap.ideal.circuit.why_not}"
