"""Findings on the graded items of the circuits: what lay outside its tolerance, and the advice on what cost most."""

from __future__ import annotations

from analyser.earth.angles import wrap180
from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedCircuit, JudgedHold, Share
from analyser.grading.score import Score
from analyser.grading.wording import on_circuits, share_of

#: Which item a cause of the error budget belongs to.
ITEM_OF = {
    "outbound_heading": "wind_correction",
    "outbound_time": "timing",
    "outbound_turn_bank": "bank",
    "inbound_turn_bank": "bank",
    "unsteadiness": "steadiness",
    "airspeed": "speed",
    "fix_crossing": "track",
    "rollout_heading": "track",
    "inbound_leg": "track",
}


def item_findings(judged: JudgedHold) -> list[Finding]:
    """Find what lay outside its tolerance, and what else cost enough to be advised on.

    Parameters
    ----------
    judged : JudgedHold

    Returns
    -------
    list of Finding
    """
    found = [one for item in _items(judged) if (one := _outside(judged, item)) is not None]
    named = {one.item for one in found}
    found += [
        one
        for share in judged.advice
        if (one := _advised(judged, share)) is not None and one.item not in named
    ]
    if not found and _mostly_judged(judged):
        words = "Every item judged in the circuits lay within its tolerance."
        found.append(Finding("within", "good", (), None, None, None, None, "", words))
    return found


def _items(judged: JudgedHold) -> list[str]:
    return list(judged.circuits[0].scores) if judged.circuits else []


def _outside(judged: JudgedHold, item: str) -> Finding | None:
    where = [one for one in judged.circuits if one.scores[item].verdict == "outside"]
    if not where:
        return None
    worst = max(where, key=lambda one: _multiple(one.scores[item]))
    score, numbers = worst.scores[item], tuple(one.circuit.number for one in where)
    share = next((one for one in judged.advice if ITEM_OF.get(one.cost.cause) == item), None)
    advice = share.advice.said(judged.variation_deg) if share is not None and share.advice else ""
    return Finding(
        item,
        "below standard",
        numbers,
        score.value,
        score.target,
        score.tolerance,
        score.sd,
        score.unit,
        _words(judged, item, worst, numbers),
        judged.lost_points(item),
        item,
        advice,
        f"{item.replace('_', ' ')} outside its tolerance{on_circuits(numbers)}",
        outside=True,
        directions_true_deg=_directions(share),
    )


def _multiple(score: Score) -> float:
    if score.deviation is None or not score.tolerance:
        return 0.0
    return abs(score.deviation) / score.tolerance


def _words(judged: JudgedHold, item: str, worst: JudgedCircuit, numbers: tuple[int, ...]) -> str:
    score = worst.scores[item]
    if item == "wind_correction":
        words = correction_words(judged, worst)
        if words:
            return words
    name = item.replace("_", " ")
    return f"Outside tolerance: {name}{on_circuits(numbers)}." if score.value is not None else ""


def _advised(judged: JudgedHold, share: Share) -> Finding | None:
    if share.advice is None:
        return None
    fly, flown = share.advice.fly, share.advice.flown
    said = share.advice.said(judged.variation_deg)
    where = next((one for one in judged.circuits if share in one.shares), None)
    return Finding(
        share.cost.cause,
        "improve",
        () if where is None else (where.circuit.number,),
        flown.value,
        fly.value,
        None,
        None,
        fly.unit,
        said,
        0.0,
        ITEM_OF.get(share.cost.cause, ""),
        said,
        directions_true_deg=_directions(share),
    )


def _directions(share: Share | None) -> tuple[float, ...]:
    if share is None or share.advice is None:
        return ()
    return tuple(
        one.value % 360.0 for one in (share.advice.fly, share.advice.flown) if one.reference == "true"
    )


def _mostly_judged(judged: JudgedHold) -> bool:
    circuits = [part for part in judged.parts if part.kind == "circuit"]
    return bool(circuits) and all(part.weight > part.unjudged for part in circuits)


#: Below this a drift correction is too small to speak of shares of it, degrees.
_LEAST_CORRECTION_DEG = 4.0
#: Nearer to the whole correction than this, degrees say more than a share.
_ABOUT_ALL = 0.25


def correction_words(judged: JudgedHold, circuit: JudgedCircuit) -> str | None:
    """Say an outbound heading as a share of the drift correction that it needed.

    Parameters
    ----------
    judged : JudgedHold
    circuit : JudgedCircuit

    Returns
    -------
    str or None
        None where hardly any was needed.
    """
    if circuit.measures.outbound_correction_deg is None:
        return None
    needed, flown = circuit.ideal.circuit.outbound_correction_deg, circuit.measures.outbound_correction_deg
    needed, flown = wrap180(needed), wrap180(flown)
    if abs(needed) < _LEAST_CORRECTION_DEG:
        return None
    more = abs(needed) - flown * (1.0 if needed > 0 else -1.0)
    where = (
        f"On circuit {circuit.circuit.number} the outbound heading"
        if len(judged.circuits) > 1
        else "The outbound heading"
    )
    # Into the wind is the way the correction points; said as the pilot steers.
    side = "right" if needed > 0 else "left"
    if flown * needed < 0.0 and abs(flown) >= _LEAST_CORRECTION_DEG:
        return f"{where} was laid off to the wrong side: steer {more:.0f}° further {side}."
    part = max(flown / needed, 0.0)
    if abs(part - 1.0) < _ABOUT_ALL:
        amount = "little" if more > 0 else "much"
        return f"{where} carried {abs(more):.0f}° too {amount} drift correction to the {side}."
    carried = share_of(part)
    if more > 0:
        return (
            f"{where} carried {carried} the drift correction it needed: take {more:.0f}° more, to the {side}."
        )
    return f"{where} carried {carried} the drift correction it needed: take {-more:.0f}° of it off."
