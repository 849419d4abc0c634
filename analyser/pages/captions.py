"""What each picture shows, in a sentence: caption and text alternative in one, so that both turn with the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from analyser.pages.figures.charts import Bar
from analyser.pages.figures.strips import Strip
from analyser.pages.subject import Span
from analyser.pages.words import NOT_JUDGED, clock, heading, number, quantity
from analyser.rules.load import load_regime

if TYPE_CHECKING:
    from analyser.pages.subject import HoldSeries
    from analyser.schema.debrief_file import WrittenCircuit, WrittenHold

#: Causes of the error budget in words.
_CAUSES = {
    "fix_crossing": "fix crossing",
    "arrival_heading": "heading over the fix",
    "outbound_turn_start": "start of outbound turn",
    "outbound_turn_bank": "bank, outbound turn",
    "outbound_heading": "outbound heading",
    "outbound_time": "outbound time",
    "inbound_turn_bank": "bank, inbound turn",
    "rollout_heading": "roll-out heading",
    "unsteadiness": "unsteady flying",
    "airspeed": "airspeed",
    "wind_change": "wind change",
    "measurement": "the log itself",
    "inbound_leg": "inbound leg",
    "all": "all of them",
}


def cause_words(cause: str) -> str:
    """Say a cause of the error budget in words."""
    return _CAUSES.get(cause, cause.replace("_", " "))


def wind_words(document: WrittenHold) -> Markup:
    """Say the hold's wind: ``"325°M 19 kt"`` in both references."""
    wind = document.wind
    if wind.from_true is None or wind.speed_kt is None:
        return Markup("not known from this log")
    return Markup("{} {}").format(heading(wind.from_true, document.variation), quantity(wind.speed_kt, "kt"))


#: Doubt of less is not worth a word, nautical miles.
_DOUBT_SAID_NM = 0.05


def rollout_words(off_nm: float, sd_nm: float | None = None) -> str:
    """Say where a circuit rolled out, right positive: ``"0.83 NM right of the course (±0.12 NM)"``."""
    doubt_nm = 2.0 * (sd_nm or 0.0)
    doubt = f" (±{number(doubt_nm, 2)} NM)" if doubt_nm >= _DOUBT_SAID_NM else ""
    if round(abs(off_nm), 2) == 0:
        return f"on the course{doubt}"
    return f"{number(abs(off_nm), 2)} NM {'right' if off_nm > 0 else 'left'} of the course{doubt}"


def _rolled_out(circuit: WrittenCircuit) -> str | None:
    turn = circuit.inbound_turn
    if turn is None or turn.rollout_cross_track_nm is None:
        return None
    return rollout_words(turn.rollout_cross_track_nm, turn.rollout_cross_track_sd_nm)


def plan(document: WrittenHold, *, exact_side: int | None = None, holes: bool = False) -> Markup:
    """Say what the plan view shows.

    ``exact_side`` is the hand that the exact circuits are drawn to (+1 right); ``holes`` whether parts of the track lie
    across holes of the log.
    """
    text = Markup("North up. Unbroken outbound, dashed inbound, turns thick.")
    if any(circuit.ideal.closes for circuit in document.circuits):
        text += Markup(" Dotted: the exact circuit for the wind, {}{}.").format(
            wind_words(document),
            "" if exact_side in (None, 1 if document.turns == "right" else -1) else
            f", drawn to the {'left' if document.turns == 'right' else 'right'} as it was flown; the hold lies on the "
            "other side",
        )  # fmt: skip
    if holes:
        text += " Thin dots: across a hole of the log."
    known = [one for one in document.circuits if one.rollout_cross_track_nm is not None]
    if not known:
        return text
    widest = max(known, key=lambda one: abs(one.rollout_cross_track_nm or 0.0))
    return text + f" Widest roll-out: {_rolled_out(widest)}, circuit {widest.number}."


def circuit(circuit: WrittenCircuit) -> str:
    """Say how one circuit came out."""
    out = _rolled_out(circuit)
    return "Roll-out not known." if out is None else f"Rolled out {out}."


def air(document: WrittenHold) -> Markup:
    """Say what the air-mass view shows."""
    banks = [
        (abs(turn.bank_mean), words, c.number)
        for c in document.circuits
        for turn, words in ((c.outbound_turn, "outbound"), (c.inbound_turn, "inbound"))
        if turn is not None and turn.bank_mean is not None
    ]
    text = Markup("The flight as the air saw it. The fix drifts along the dotted line.")
    if not banks:
        return text
    least, most = min(banks), max(banks)
    return text + (
        f" Grey circles: the bank asked for. Flattest turn {least[0]:.1f}° ({least[1]}, circuit {least[2]}), "
        f"steepest {most[0]:.1f}° ({most[1]}, circuit {most[2]})."
    )


def side(series: HoldSeries) -> Markup:
    """Say what the side view shows."""
    low, high = float(np.nanmin(series.altitude_ft)), float(np.nanmax(series.altitude_ft))
    return Markup("Height over distance to the fix, inbound from left to right: {} to {}.").format(
        quantity(low, "ft"), quantity(high, "ft")
    )


def ribbon(spans: Sequence[Span], start_s: float, seams_s: Sequence[float] = ()) -> Markup:
    """Say what the ribbon shows."""
    starts = [
        f"circuit {s.circuit} from {clock(s.start_s - start_s)}" for s in spans if s.phase == "outbound_turn"
    ]
    seams = ", ".join(clock(seam_s - start_s) for seam_s in seams_s)
    not_timed = (
        f" Dotted upright at {seams}: the recording stood still, or time ran otherwise than its clock; what lies "
        "across that is not timed."
    )
    return (
        Markup("Minutes and seconds from the arrival over the fix")
        + "".join(f"; {s}" for s in starts)
        + "."
        + (not_timed if seams else "")
    )


def strip(strip: Strip, start_s: float) -> Markup:
    """Say what a time strip shows."""
    known = strip.value[~np.isnan(strip.value)]
    low, high = (quantity(float(edge), strip.unit, strip.decimals) for edge in (known.min(), known.max()))
    text = Markup("{} to {}").format(low, high)
    if not strip.bands:
        return text + f"; {NOT_JUDGED}."
    spots = strip.outside
    if not spots:
        return (
            text + "; inside the band wherever it applies" + (f", but {strip.also}." if strip.also else ".")
        )
    worst = max(spots, key=lambda spot: abs(spot.worst))
    seconds = sum(max(spot.end_s - spot.start_s, 1.0) for spot in spots)
    far = quantity(worst.worst, strip.unit, strip.decimals, signed=True)
    told = Markup("{}; outside the band for {} s, worst {} at {}").format(
        text, f"{seconds:.0f}", far, clock(worst.worst_s - start_s)
    )
    return told + (f"; {strip.also}." if strip.also else ".")


def entry(document: WrittenHold) -> Markup:
    """Say what the sector diagram shows."""
    found = document.entry
    if not found:
        return Markup("The log starts inside the hold: no arrival to judge.")
    at = heading(found.arrival_heading_true, document.variation)
    word = load_regime(document.rules).entry.word
    allowed = " or ".join(map(word, found.sectors_allowed)) or "no entry"
    verdict = found.verdict
    if verdict == "correct" and found.recommended is False:
        verdict = "not the one recommended"
    return Markup("Heading {} over the fix asks for {}. Flown: {}, {}.").format(
        at, allowed, word(found.flown), verdict
    )


def wind(document: WrittenHold) -> Markup:
    """Say what the wind circle shows."""
    wind, tas = document.wind, document.tas_kt
    text = Markup(
        "Each point is a ground velocity. They lie round the wind, {}, at the distance of the true airspeed, {}."
    ).format(wind_words(document), quantity(tas, "kt"))
    if wind.sd_kt is None:
        return text
    return text + f" The wind is known to ±{2 * wind.sd_kt:.1f} kt along either axis."


def waterfall(shares: Sequence[Bar], total: float, unit: str, decimals: int) -> str:
    """Say which share of an error is the largest."""
    name, value = shares[0]
    sum_words = f"{number(total, decimals, signed=True)} {unit}"
    return f"{sum_words} in all. Largest share: {name}, {number(value, decimals, signed=True)} {unit}."
