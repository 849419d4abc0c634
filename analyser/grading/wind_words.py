"""An outbound heading in words: as a share of the drift correction that this wind needed."""

from __future__ import annotations

from analyser.grading.judged import JudgedCircuit, JudgedHold
from analyser.grading.wording import share_of

#: Below this a drift correction is too small to speak of shares of it, degrees.
_LEAST_CORRECTION_DEG = 4.0
#: Nearer to the whole correction than this, degrees say more than a share.
_ABOUT_ALL = 0.25


def correction_words(judged: JudgedHold, circuit: JudgedCircuit) -> str | None:
    """Say an outbound heading as a share of the drift correction that it needed.

    Returns
    -------
    str or None
        None where hardly any was needed.
    """
    if circuit.measures.outbound_correction_deg is None:
        return None
    needed, flown = circuit.ideal.circuit.outbound_correction_deg, circuit.measures.outbound_correction_deg
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
        return f"{where} was laid off to the wrong side: {more:.0f}° further {side} was right."
    part = max(flown / needed, 0.0)
    if abs(part - 1.0) < _ABOUT_ALL:
        amount = "little" if more > 0 else "much"
        return f"{where} carried {abs(more):.0f}° too {amount} drift correction to the {side}."
    carried = share_of(part)
    if more > 0:
        return f"{where} carried {carried} the drift correction it needed: {more:.0f}° more, to the {side}, was right."
    return f"{where} carried {carried} the drift correction it needed: {-more:.0f}° less of it was right."
