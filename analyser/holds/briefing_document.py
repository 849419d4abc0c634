"""A briefing as plain data for JSON: directions degrees true, what is not known is null."""

from __future__ import annotations

import math
from typing import Any

from analyser.holds.briefing import Briefing
from analyser.holds.entries import EntryPlan
from analyser.holds.exact import ExactCircuit
from analyser.holds.leaving_plan import LeavePlan, TurnIn
from analyser.holds.rules_of_thumb import ThumbComparison
from analyser.rules.regime import Sourced

#: Raised only when a key changes its meaning or goes; additions keep it.
SCHEMA = 1
CAUTION = "Training aid: not for navigation, not for obstacle clearance."


def briefing_document(briefing: Briefing) -> dict[str, Any]:
    """Write a briefing as plain data.

    Returns
    -------
    dict
        Ready for ``json.dumps(…, allow_nan=False)``; every number that rests on a rule stands beside it.
    """
    b = briefing
    return {
        "schema": SCHEMA,
        "kind": "brief",
        "caution": CAUTION,
        "rules": b.regime.key,
        "hold": _hold(b),
        "flight": _flight(b),
        "speed_limit": {
            "kias": _or_none(b.speed_limit_kias),
            "exceeded": b.too_fast,
            "rule": _rule(b.speed_limit),
        },
        "turns": {
            "bank_deg": b.exact.bank_deg,
            "rate_dps": b.exact.turn_rate_dps,
            "rule": _rule(b.regime.turns),
        },
        "leg": {
            "still_air_s": b.still_air_s,
            "fixes": b.regime.clock.fixes,
            "outbound_end_dme_nm": b.hold.leg.end_dme_nm if b.hold.leg else None,
            "exact_end_dme_nm": b.exact_end_dme_nm,
            "rule": None if b.hold.leg else _rule(b.regime.leg_step(b.flight.altitude_ft)),
        },
        "circuit": _circuit(b.exact) | {"clock": _rule(b.regime.clock)},
        "entry": {
            "sectors": [
                {
                    "entry": one.entry,
                    "from_heading_true": one.from_heading_deg,
                    "to_heading_true": one.to_heading_deg,
                }
                for one in b.sectors
            ],
            "zone_deg": b.regime.entry.zone_deg,
            "sectors_allowed": list(b.allowed) if b.flight.arrival_heading_true_deg is not None else None,
            "plans": [_entry(one) for one in b.entries],
            "rule": _rule(b.regime.entry),
        },
        "winds": [
            {
                "from_true": one.wind_from_true_deg,
                "speed_kt": one.wind_speed_kt,
                "circuit": _circuit(one.exact),
            }
            for one in b.winds
        ],
        "turn_in": [_turn_in(one) for one in b.turn_in],
        "leaving": {"plans": [_leave(one) for one in b.leaving], "rule": _rule(b.regime.leaving)},
        "rules_of_thumb": [_thumb(one) for one in b.beside],
    }


def _hold(b: Briefing) -> dict[str, Any]:
    hold, variation = b.hold, b.variation
    return {
        "name": hold.name,
        "fix": {"lat": hold.fix_lat_deg, "lon": hold.fix_lon_deg},
        "inbound_course_true": hold.inbound_course_true_deg,
        "inbound_course_magnetic": (hold.inbound_course_true_deg - variation.variation_deg) % 360.0,
        "variation": variation.variation_deg,
        "variation_model": variation.model,
        "variation_within_validity": variation.within_validity,
        "turns": hold.turns,
        "leg": None
        if hold.leg is None
        else {"minutes": hold.leg.minutes}
        if hold.leg.minutes is not None
        else {"distance_nm": hold.leg.distance_nm},
    }


def _flight(b: Briefing) -> dict[str, Any]:
    flight = b.flight
    return {
        "altitude_ft": flight.altitude_ft,
        "tas_kt": flight.tas_kt,
        "ias_kt": flight.ias_kt,
        "isa_deviation_c": flight.isa_deviation_c,
        "wind": {"from_true": flight.wind_from_true_deg, "speed_kt": flight.wind_speed_kt}
        if flight.wind_known
        else None,
        "arrival_heading_true": flight.arrival_heading_true_deg,
        "category": flight.category,
    }


def _circuit(exact: ExactCircuit) -> dict[str, Any]:
    figures = {
        "inbound_heading_true": exact.inbound_heading_deg,
        "inbound_correction_deg": exact.inbound_drift_correction_deg,
        "inbound_time_s": exact.inbound_time_s,
        "inbound_distance_nm": exact.inbound_distance_nm,
        "inbound_ground_speed_kt": exact.inbound_ground_speed_kt,
        "outbound_heading_true": exact.outbound_heading_deg,
        "outbound_correction_deg": exact.outbound_correction_deg,
        "outbound_track_true": exact.outbound_track_deg,
        "outbound_ground_speed_kt": exact.outbound_ground_speed_kt,
        "outbound_time_s": exact.outbound_time_s,
        "outbound_timed_s": exact.outbound_timed_s,
        "abeam_after_s": exact.abeam_after_s,
        "drift_multiple": exact.drift_multiple,
        "first_turn_s": exact.first_turn_s,
        "second_turn_s": exact.second_turn_s,
        "total_s": exact.total_s,
        "gate_bearing_deg": exact.gate_bearing_deg,
        "roll_s": exact.roll_s,
    }
    known = {name: _or_none(value) for name, value in figures.items()}
    return {"exists": exact.exists, "closes": exact.closes, "why_not": exact.why_not or None} | known


def _entry(plan: EntryPlan) -> dict[str, Any]:
    return {
        "entry": plan.entry,
        "track_true": plan.track_deg,
        "heading_true": plan.heading_deg,
        "first_turn": plan.first_turn,
        "first_turn_deg": plan.first_turn_deg,
        "rule_time_s": plan.rule_time_s,
        "time_s": plan.time_s,
        "end_nm": plan.end_nm,
        "second_turn": plan.second_turn,
    }


def _turn_in(line: TurnIn) -> dict[str, Any]:
    return {
        "back_after_s": line.back_after_s,
        "turn_in_after_s": line.turn_in_after_s,
        "to_go_s": line.to_go_s,
        "outbound_timed_s": line.outbound_timed_s,
        "clock_from": line.clock_from,
        "outbound_time_s": line.outbound_time_s,
        "outbound_heading_true": line.outbound_heading_deg,
    }


def _leave(plan: LeavePlan) -> dict[str, Any]:
    return {
        "wanted_s": plan.wanted_s,
        "feasible": plan.feasible,
        "why_not": plan.why_not or None,
        "leaves_s": plan.leaves_s,
        "full_circuits": plan.full_circuits,
        "shortened": [_circuit(one) for one in plan.shortened],
    }


def _thumb(one: ThumbComparison) -> dict[str, Any]:
    return {
        "for": one.what,
        "name": one.thumb.rule.name,
        "words": one.thumb.rule.words,
        "value": one.thumb.value,
        "unit": one.thumb.unit,
        "exact": one.exact,
        "error": one.error,
        "good": one.good,
        "rule": _rule(one.thumb.rule),
    }


def _rule(sourced: Sourced) -> dict[str, str]:
    return {"source": sourced.source, "standing": sourced.standing}


def _or_none(value: float | None) -> float | None:
    return None if value is None or math.isnan(value) else value
