"""Learning from circuit to circuit: what the last inbound leg taught, and what the pilot made of it."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.grading.grading_thresholds import NEXT
from analyser.grading.lap import Lap, Measures
from analyser.grading.wording import Number

#: "kept": right already and left alone. "right": corrected as taught. "too little", "too far", "wrong way",
#: "not at all": what the correction was against the one needed.
Outcome = Literal["kept", "right", "too little", "too far", "wrong way", "not at all"]

_MULTIPLE_SOURCE = "US Navy P-1244: two to three times; ICAO names no multiple"


@dataclass(frozen=True)
class Lesson:
    """One quantity from one circuit to the next."""

    #: The one that should have been corrected.
    circuit: int
    quantity: Literal["outbound_time", "outbound_heading"]
    #: On the circuit before; what its inbound leg taught; on this one.
    before: Number
    taught: Number
    flown: Number
    #: What the exact circuit asked for in this circuit's wind.
    exact: Number | None
    outcome: Outcome
    #: What turned the inbound leg into the number taught.
    rule: str
    #: Whether what was flown came within the band of the number taught, and of the exact one.
    as_taught: bool = False
    as_asked: bool = False


def lessons(laps: list[Lap], measures: list[Measures]) -> tuple[Lesson, ...]:
    """Compare each circuit with what the one before it taught."""
    found: list[Lesson] = []
    for k in range(1, len(laps)):
        before, now = (laps[k - 1], measures[k - 1]), (laps[k], measures[k])
        found += [lesson for lesson in (_time_lesson(before, now), _heading_lesson(before, now)) if lesson]
    return tuple(found)


def outcome(before: float, taught: float, flown: float, band: float, exact: float | None = None) -> Outcome:
    """Say what a correction was worth, from the circuit before to this one; as near as the band counts as there.

    A pilot who meets what the wind really asked for was right, whatever the rule of thumb says.
    """
    needed, made = taught - before, flown - before
    if abs(flown - taught) <= band or (exact is not None and abs(flown - exact) <= band):
        return "kept" if abs(made) <= band else "right"
    if abs(made) <= 0.5 * band:
        return "not at all"
    if made * needed < 0.0:
        return "wrong way"
    # Where little was needed, whatever misses it this way went beyond it.
    return "too little" if abs(made) < abs(needed) else "too far"


def _time_lesson(before: tuple[Lap, Measures], now: tuple[Lap, Measures]) -> Lesson | None:
    (lap, old), (next_lap, new) = before, now
    exact = lap.ideal.circuit
    if old.timed_s is None or new.timed_s is None or lap.terms.clock != next_lap.terms.clock:
        return None
    if next_lap.cut_short or not lap.flown.leg_known or lap.terms.minutes is None or not exact.closes:
        return None
    tolerance = lap.regime.allowances.timing_s
    taught, taught_sd_s = lap.ideal.outbound_s(lap.terms.clock)
    rule = "the exact outbound time for the wind met on the circuit before"
    if lap.regime.clock.fixes == "inbound":
        if old.inbound_duration_s is None:
            return None
        taught = old.timed_s + exact.inbound_time_s - old.inbound_duration_s
        taught_sd_s = old.inbound_duration_sd_s or 0.0
        rule = "last outbound time + (target − inbound time flown): US Navy P-871"
    # What is known no better than the tolerance teaches nothing.
    if max(old.timed_sd_s or 0.0, new.timed_sd_s or 0.0, taught_sd_s) > tolerance:
        return None
    asked = next_lap.ideal.outbound_s(next_lap.terms.clock)[0] if next_lap.ideal.circuit.closes else None
    band = lap.scoring.learning.time_band_s
    return _lesson(next_lap, "outbound_time", rule, (old.timed_s, taught, new.timed_s, asked), band)


def _heading_lesson(before: tuple[Lap, Measures], now: tuple[Lap, Measures]) -> Lesson | None:
    (lap, old), (next_lap, new) = before, now
    inbound = drift_correction_deg(lap)
    if inbound is None or old.outbound_correction_deg is None or new.outbound_correction_deg is None:
        return None
    if next_lap.circuit.inbound_turn is None:
        return None
    # Three times a drift that is not known is no lesson, nor is a correction for a leg of unknown length.
    if not lap.flown.leg_known or lap.ideal.outbound_heading_sd_deg > lap.standard.heading.tolerance_deg:
        return None
    named = lap.regime.drift
    multiple, source = (
        (named.multiple, named.source) if named else (NEXT.correction_multiple, _MULTIPLE_SOURCE)
    )
    rule = f"{multiple:g} × the inbound correction of {abs(inbound):.0f}°, on the other side ({source})"
    exact = next_lap.ideal.circuit
    asked = exact.outbound_correction_deg if exact.closes else None
    # The inbound correction is read to a degree or so, and the multiple carries that outbound.
    band = math.hypot(lap.scoring.learning.heading_band_deg, multiple)
    laid_off = (old.outbound_correction_deg, -multiple * inbound, new.outbound_correction_deg, asked)
    return _lesson(next_lap, "outbound_heading", rule, laid_off, band)


def _lesson(
    lap: Lap,
    quantity: Literal["outbound_time", "outbound_heading"],
    rule: str,
    values: tuple[float, float, float, float | None],
    band: float,
) -> Lesson:
    """Make a lesson of a time, or a correction of the heading: before, as taught, as flown, as the wind asked."""
    before, taught, flown, asked = values
    told: list[Number | None] = [None if one is None else Number(one, "s") for one in values]
    if quantity == "outbound_heading":
        course = lap.flown.hold.outbound_course_true_deg
        told = [None if one is None else Number((course + one) % 360.0, "°", "true") for one in values]
        if asked is not None:
            told[3] = Number(lap.ideal.circuit.outbound_heading_deg % 360.0, "°", "true")
    as_asked = asked is not None and abs(flown - asked) <= band
    result = outcome(before, taught, flown, band, asked)
    was, lesson, made, exact = told
    assert was and lesson and made
    number, as_taught = lap.circuit.number, abs(flown - taught) <= band
    return Lesson(number, quantity, was, lesson, made, exact, result, rule, as_taught, as_asked)


def drift_correction_deg(lap: Lap) -> float | None:
    """Return the correction for drift on the inbound leg's second half, positive right: heading minus track made good.

    The heading alone would not do: while the pilot is still meeting the course it holds the interception too. None
    where there was no inbound leg.
    """
    leg = lap.circuit.inbound_leg
    if leg is None or leg.duration_s < NEXT.least_leg_s:
        return None
    span = (0.5 * (leg.start_s + leg.end_s), leg.end_s - 2.0)
    off = wrap180(lap.series("heading_deg", *span) - lap.series("track_deg", *span))
    return float(np.mean(off)) if off.size else None
