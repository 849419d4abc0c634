"""What to do next time: the advice on each graded item, and findings on what else cost most."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analyser.grading.changes import Change
from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.next_time import NextTime
from analyser.grading.wording import Number, from_wings_level


def item_advice(judged: JudgedHold, item: str, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    """Return what to do about an item, and the true directions it speaks of.

    Where the next circuit could be flown ahead, what was found to help is all that is advised: putting one item right
    alone may make another worse.

    Parameters
    ----------
    item : str
        A graded item, or ``"late turn"``.
    latest : JudgedCircuit
        The last one on which it lay outside: its wind and its numbers are the freshest.

    Returns
    -------
    advice : str
        Empty where there is nothing to say that helps.
    """
    plan = judged.next_time
    if plan is not None and item in PLANNED and item not in plan.moves_nothing:
        planned = planned_advice(judged, item)
        return planned if planned[0] or item != "track" else _track(judged, latest)
    return _OF_ITEM[item](judged, latest) if item in _OF_ITEM else ("", ())


#: What is put right by the decisions of a circuit, which are flown ahead together.
PLANNED = ("timing", "wind_correction", "bank", "track", "late turn", "speed")


def planned_advice(judged: JudgedHold, item: str) -> tuple[str, tuple[float, ...]]:
    """Return the advice of the next circuit's plan, where the item is among what is to be changed first."""
    plan = judged.next_time
    if plan is None:
        return "", ()
    if any(change.item == item for change in plan.first):
        return plan.said(judged.variation_deg), directions(plan.first)
    if item == "timing" and _mends_inbound_time(judged, plan):
        return f"{plan.said(judged.variation_deg)} That puts the inbound time right.", directions(plan.first)
    if item == "track" and _mends_track(judged, plan):
        words = f"{plan.said(judged.variation_deg)} That ends the inbound turn on the course."
        return words, directions(plan.first)
    return "", ()


def _mends_track(judged: JudgedHold, plan: NextTime) -> bool:
    """Return whether the inbound turn ended beside the course and would end well on it after the first changes."""
    latest = next((one for one in judged.circuits if one.circuit.number == plan.circuit), None)
    if latest is None:
        return False
    along_nm = max(latest.ideal.circuit.inbound_distance_nm, 0.1)
    off_deg, left_deg = (
        math.degrees(math.atan2(miss_nm, along_nm)) for miss_nm in (plan.miss_nm, plan.first_miss_nm)
    )
    tolerance_deg = judged.standard.track_angular_deg
    return off_deg > tolerance_deg and left_deg <= 0.5 * off_deg and left_deg <= tolerance_deg


def _track(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    score = latest.scores["track"]
    if score.tolerance is None:
        return "", ()
    allowed = f"{score.tolerance:.0f}°" if score.unit == "°" else f"{score.tolerance:.1f} NM"
    return f"Hold the inbound course within ±{allowed} from the end of the turn to the fix.", ()


def _mends_inbound_time(judged: JudgedHold, plan: NextTime) -> bool:
    """Return whether the first changes bring the inbound leg back within its tolerance: it follows from the others."""
    latest = next((one for one in judged.circuits if one.circuit.number == plan.circuit), None)
    if latest is None or latest.terms.timed != "inbound":
        return False
    speed_kt = latest.ideal.circuit.inbound_ground_speed_kt
    return speed_kt > 0.0 and plan.first_miss_nm * 3600.0 / speed_kt <= latest.terms.timing_tolerance_s


def _late_turn(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    return "Start the outbound turn over the fix.", ()


def _wind_correction(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    if not latest.ideal.circuit.closes:
        return "", ()
    heading = latest.ideal.circuit.outbound_heading_deg % 360.0
    said = Number(heading, "°", "true").said(judged.variation_deg)
    return f"Roll out outbound on {said} in this wind.", (heading,)


def _timing(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    leg = judged.flown.hold.leg
    if latest.terms.timed == "length" and leg is not None:
        before = (
            "" if judged.flown.hold.limiting_radial_true_deg is None else ", and before the limiting radial"
        )
        return f"Turn inbound at {leg.distance_nm:.1f} NM{before}.", ()
    if not latest.ideal.circuit.closes:
        return "", ()
    target, _ = latest.ideal.outbound_s(latest.terms.clock)
    by_abeam = latest.terms.clock == "abeam"
    since = f"passing abeam the fix{from_wings_level(latest.ideal.circuit)}" if by_abeam else "wings level"
    return f"Turn inbound {target:.0f} s after {since} in this wind.", ()


def _bank(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    target = latest.scores["bank"].target
    outside = [name for name, score in latest.turns.items() if score.verdict == "outside"]
    turns = "both turns" if len(outside) != 1 else f"the {outside[0].replace('_', ' ')}"
    return ("" if target is None else f"Hold {target:.0f}° of bank in {turns}."), ()


def _steadiness(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    return "Keep the bank steady through the turns.", ()


_OF_ITEM = {
    "wind_correction": _wind_correction,
    "timing": _timing,
    "bank": _bank,
    "steadiness": _steadiness,
    "track": _track,
    "late turn": _late_turn,
}


def advice_findings(judged: JudgedHold, named: set[str]) -> list[Finding]:
    """Find what else is to be changed on the next circuit, within every tolerance or beside the items.

    Parameters
    ----------
    named : set of str
        Kinds that are found already.
    """
    plan = judged.next_time
    if plan is None:
        return []
    return [
        Finding(
            change.causes[0],
            "improve",
            (plan.circuit,),
            change.advice.flown.value,
            change.advice.fly.value,
            None,
            _sd(judged, plan.circuit, change),
            change.advice.fly.unit,
            change.advice.said(judged.variation_deg),
            item=change.item,
            advice=plan.said(judged.variation_deg) if change in plan.first else "",
            directions_true_deg=directions(plan.first if change in plan.first else (change,)),
        )
        for change in plan.all
        if change.item not in named
    ]


def _sd(judged: JudgedHold, number: int, change: Change) -> float | None:
    """Return sigma of what a change is learned from: of the time, or of the item it belongs to."""
    one = next(one for one in judged.circuits if one.circuit.number == number)
    if change.name == "time":
        return one.measures.timed_sd_s
    score = one.scores.get(change.item)
    return None if change.name not in ("heading", "bank") or score is None else score.sd


def directions(changes: Sequence[Change]) -> tuple[float, ...]:
    """Return the true directions that advice on some changes speaks of."""
    numbers = [one for change in changes for one in (change.advice.fly, change.advice.flown)]
    return tuple(one.value % 360.0 for one in numbers if one.reference == "true")
