"""What to do next time: the advice on each graded item, and findings on what else cost most."""

from __future__ import annotations

from analyser.grading.finding import Finding
from analyser.grading.judged import JudgedCircuit, JudgedHold, Share
from analyser.grading.wording import Number

#: Which finding a cause of the error budget belongs to.
KIND_OF = {
    "outbound_heading": "wind_correction",
    "outbound_time": "timing",
    "outbound_turn_bank": "bank",
    "inbound_turn_bank": "bank",
    "unsteadiness": "steadiness",
    "airspeed": "speed",
    "outbound_turn_start": "late turn",
    "fix_crossing": "track",
    "rollout_heading": "track",
    "inbound_leg": "track",
}


def item_advice(judged: JudgedHold, item: str, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    """Return what to do about an item, and the true directions it speaks of.

    Parameters
    ----------
    judged : JudgedHold
    item : str
    latest : JudgedCircuit
        The last one on which it lay outside: its wind and its numbers are the freshest.

    Returns
    -------
    advice : str
        Empty where there is nothing to say that helps.
    directions_true_deg : tuple of float
    """
    if item in _OF_ITEM:
        return _OF_ITEM[item](judged, latest)
    share = next((one for one in judged.advice if KIND_OF.get(one.cost.cause) == item), None)
    if share is None or share.advice is None:
        return "", ()
    return share.advice.said(judged.variation_deg), directions(share)


def _wind_correction(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    if not latest.ideal.circuit.closes:
        return "", ()
    heading = latest.ideal.circuit.outbound_heading_deg % 360.0
    said = Number(heading, "°", "true").said(judged.variation_deg)
    return f"Roll out outbound on {said} in this wind.", (heading,)


def _timing(judged: JudgedHold, latest: JudgedCircuit) -> tuple[str, tuple[float, ...]]:
    leg = judged.flown.hold.leg
    if latest.terms.timed == "length" and leg is not None:
        return f"Turn inbound at {leg.distance_nm:.1f} NM.", ()
    if not latest.ideal.circuit.closes:
        return "", ()
    target, _ = latest.ideal.outbound_s(latest.terms.clock)
    since = "passing abeam the fix" if latest.terms.clock == "abeam" else "wings level"
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
}


def advice_findings(judged: JudgedHold, named: set[str]) -> list[Finding]:
    """Find what else cost enough to be advised on, within every tolerance or beside the items.

    Parameters
    ----------
    judged : JudgedHold
    named : set of str
        Kinds that are found already.

    Returns
    -------
    list of Finding
    """
    found = []
    for share in judged.advice:
        if share.advice is None or KIND_OF.get(share.cost.cause, share.cost.cause) in named:
            continue
        said = share.advice.said(judged.variation_deg)
        where = next((one for one in judged.circuits if share in one.shares), None)
        found.append(
            Finding(
                share.cost.cause,
                "improve",
                () if where is None else (where.circuit.number,),
                share.advice.flown.value,
                share.advice.fly.value,
                None,
                None,
                share.advice.fly.unit,
                said,
                item=KIND_OF.get(share.cost.cause, ""),
                advice=said,
                directions_true_deg=directions(share),
            )
        )
    return found


def directions(share: Share) -> tuple[float, ...]:
    """Return the true directions that a share's advice speaks of."""
    if share.advice is None:
        return ()
    return tuple(
        one.value % 360.0 for one in (share.advice.fly, share.advice.flown) if one.reference == "true"
    )
