"""What the page says of each circuit: its numbers, their table, and what moved it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages import pictures
from analyser.pages.captions import cause_words
from analyser.pages.map_paths import ReflownChoice
from analyser.pages.words import heading, missing, quantity, turnable
from analyser.rules.graded_items import item_of
from analyser.schema.debrief_file import WrittenCircuit, WrittenHold, WrittenShare

if TYPE_CHECKING:
    from analyser.schema.debrief_file import (
        WrittenCircuit,
        WrittenInboundLeg,
        WrittenOutboundLeg,
        WrittenScore,
        WrittenTurn,
    )


@dataclass(frozen=True)
class Judged:
    """One item of one circuit.

    Attributes
    ----------
    key, title, short, meaning : str
        Short heads a narrow column.
    points : float or None
        0 … 100; None is not judged.
    value, target, tolerance, uncertainty : Markup
        Ready for the page.
    obtained : str
        How the number was come by: logged or derived.
    outside : bool
        True where the value lies outside the tolerance.
    note : str
        What else should be known, or why it was not judged.
    """

    key: str
    title: str
    short: str
    meaning: str
    points: float | None
    value: Markup
    target: Markup
    tolerance: Markup
    uncertainty: Markup
    obtained: str
    verdict: str
    outside: bool
    note: str


def judged(key: str, score: WrittenScore) -> Judged:
    """Read one score of the debrief document."""
    item = item_of(key)
    unit, decimals, tolerance, spread = score.unit, item.decimals, score.tolerance, score.sd
    return Judged(
        key,
        item.title,
        item.short,
        item.meaning,
        score.points,
        _value(score.value, unit, decimals, signed=score.reference is not None),
        _target(score, unit, decimals),
        missing("none set") if tolerance is None else Markup("±") + quantity(tolerance, unit, decimals),
        missing("not known")
        if spread is None
        else Markup("±") + quantity(2 * spread, unit, max(decimals, 1)),
        score.obtained or "",
        score.verdict,
        score.verdict == "outside",
        score.why or score.note or "",
    )


def _value(value: float | None, unit: str, decimals: int, *, signed: bool = False) -> Markup:
    return missing("not known") if value is None else quantity(value, unit, decimals, signed=signed)


def _target(score: WrittenScore, unit: str, decimals: int) -> Markup:
    """Where the value is an error from something, the target in words is that something."""
    reference = score.reference
    return _value(score.target if reference is None else reference, unit, decimals)


@dataclass(frozen=True)
class ScoreCell:
    """One cell of the circuits' table: what was flown and what should have been."""

    value: Markup
    target: Markup | None = None
    outside: bool = False


#: Heads of the table of circuits, in the order of :func:`circuit_rows`.
COLUMNS = (
    "Outbound time",
    "Outbound heading",
    "Bank, outbound turn",
    "Bank, inbound turn",
    "Roll-out, off the course",
    "Inbound time",
    "Inbound heading",
    "Off course inbound, typically",
    "Fix missed by",
    "Altitude, worst",
    "Speed, worst",
)


def circuit_rows(
    circuits: Sequence[WrittenCircuit], variation: float | None
) -> list[tuple[WrittenCircuit, list[ScoreCell]]]:
    """Lay out the table of circuits: one row each, its cells under :data:`COLUMNS`.

    Parameters
    ----------
    variation : float or None
        East positive, for magnetic courses.
    """
    return [(c, _circuit_cells(c, variation)) for c in circuits]


def _circuit_cells(c: WrittenCircuit, variation: float | None) -> list[ScoreCell]:
    out, inbound = c.outbound_leg, c.inbound_leg
    late = _is_outside(c, "timing")
    return [
        _outbound_time(out, "outbound" in c.timed and late),
        _heading(out, variation, _is_outside(c, "wind_correction")),
        _bank(c.outbound_turn),
        _bank(c.inbound_turn),
        _side(c.rollout_cross_track_nm),
        ScoreCell(missing())
        if inbound is None
        else _time(inbound.duration_s, inbound.ideal_duration_s, c.timed == "inbound" and late),
        _heading(inbound, variation, False),
        ScoreCell(
            quantity(None if inbound is None else inbound.cross_track_rms_nm, "NM", 2),
            None,
            _is_outside(c, "track"),
        ),
        ScoreCell(quantity(c.fix_miss_nm, "NM", 2)),
        ScoreCell(quantity(c.altitude_error_max_ft, "ft", 0, signed=True), None, _is_outside(c, "altitude")),
        ScoreCell(quantity(c.speed_error_max_kt, "kt", 0, signed=True), None, _is_outside(c, "speed")),
    ]


def _is_outside(circuit: WrittenCircuit, item: str) -> bool:
    return circuit.scores[item].verdict == "outside"


def _outbound_time(leg: WrittenOutboundLeg | None, outside: bool) -> ScoreCell:
    if leg is None:
        return ScoreCell(missing(), None, outside)
    target, level = leg.ideal_timed_s, leg.ideal_timed_wings_s
    cell = _time(leg.timed_s, target, outside)
    if target is None or level is None or round(target) == round(level) or leg.clock != "abeam":
        return cell
    # Abeam may lie inside the turn: a pilot who starts the clock at wings level needs the other number.
    both = Markup('{} <span class="level">({} from wings level)</span>')
    return replace(cell, target=both.format(cell.target, quantity(level, "s")))


def _time(value: float | None, target: float | None, outside: bool) -> ScoreCell:
    return ScoreCell(quantity(value, "s"), None if target is None else quantity(target, "s"), outside)


def _heading(
    leg: WrittenOutboundLeg | WrittenInboundLeg | None, variation: float | None, outside: bool
) -> ScoreCell:
    if leg is None:
        return ScoreCell(missing(), None, outside)
    ideal = leg.ideal_heading_true
    target = None if ideal is None else heading(ideal, variation)
    return ScoreCell(heading(leg.heading_true, variation), target, outside)


def _bank(turn: WrittenTurn | None) -> ScoreCell:
    if turn is None or turn.bank_mean is None:
        return ScoreCell(missing())
    asked = None if turn.bank_target is None else quantity(turn.bank_target, "°", 1)
    return ScoreCell(quantity(abs(turn.bank_mean), "°", 1), asked, turn.bank_verdict == "outside")


def _side(value: float | None) -> ScoreCell:
    if value is None:
        return ScoreCell(missing())
    words = "on it" if round(abs(value), 2) == 0 else "right" if value > 0 else "left"
    return ScoreCell(Markup("{} {}").format(quantity(abs(value), "NM", 2), words))


#: With up to so many circuits each has a line of its own; of more the rest is put behind one line.
_EACH = 6


@dataclass(frozen=True)
class CircuitView:
    """One circuit, ready for the page.

    Attributes
    ----------
    line : Markup
        What its folded line says.
    counted : list of Judged
        The items that carry points, in order.
    judged : list of Judged
        These and what is shown beside them.
    advice : list of Markup
        The most costly fault first.
    """

    doc: WrittenCircuit
    number: int
    points: float | None
    opened: bool
    line: Markup
    counted: list[Judged]
    judged: list[Judged]
    waterfalls: list[pictures.Picture]
    advice: list[Markup]
    no_advice: str
    reflown: list[ReflownChoice]


def circuit_views(document: WrittenHold, reflown: Mapping[int, list[ReflownChoice]]) -> list[CircuitView]:
    """Gather what the page says of each circuit of a hold."""
    opened = shown_first(document.circuits)
    return [
        _view(circuit, document.variation, circuit.number in opened, reflown[circuit.number])
        for circuit in document.circuits
    ]


def shown_first(circuits: Sequence[WrittenCircuit]) -> set[int]:
    """Choose the circuits that are shown opened: the worst, the best and the last."""
    judged = [c for c in circuits if c.points is not None]
    chosen = {c.number for c in circuits[-1:]}
    if judged:
        chosen |= {pick(judged, key=lambda c: c.points or 0.0).number for pick in (min, max)}
    return chosen


def put_together(circuits: Sequence[CircuitView]) -> list[CircuitView]:
    """Return the circuits that share one folded line, where there are too many for a line each."""
    return [] if len(circuits) <= _EACH else [one for one in circuits if not one.opened]


def _view(
    circuit: WrittenCircuit, variation: float | None, opened: bool, reflown: list[ReflownChoice]
) -> CircuitView:
    items = [judged(key, score) for key, score in circuit.all_scores.items()]
    advice = circuit_advice(circuit, variation)
    lacking = no_advice(circuit)
    return CircuitView(
        circuit,
        circuit.number,
        circuit.points,
        opened,
        advice[0] if advice else Markup("{}{}").format(lacking[0].upper(), lacking[1:]),
        items[:-1],
        items,
        pictures.waterfall_pictures(circuit),
        advice,
        lacking,
        reflown,
    )


def main_cause(circuit: WrittenCircuit) -> str | None:
    """Return the cause that is advised on first, or None."""
    given = _advised(circuit)
    return given[0].cause if given else None


def circuit_advice(circuit: WrittenCircuit, variation: float | None) -> list[Markup]:
    """Return what was flown and what was right on a circuit, the most costly fault first."""
    return [turnable(one.advice or "", variation, _directions(one)) for one in _advised(circuit)]


def _advised(circuit: WrittenCircuit) -> list[WrittenShare]:
    return sorted((one for one in circuit.error_budget if one.advice), key=lambda share: share.rank or 99)


def no_advice(circuit: WrittenCircuit) -> str:
    """Say why a circuit has no advice.

    Parameters
    ----------
    circuit : WrittenCircuit
        One without advice.

    Returns
    -------
    str
        Why there is no budget, to follow a colon; else a sentence: nothing cost enough, or what cost most is
        nothing to correct.
    """
    if not circuit.error_budget:
        return f"{circuit.error_budget_missing or 'too little of this circuit was flown or recorded'}."
    if not any(score.verdict == "outside" for score in circuit.scores.values()):
        return "No fault cost enough to speak of."
    most = max(circuit.error_budget, key=lambda share: hypot(share.cross_track_nm, share.along_track_nm))
    moved = hypot(most.cross_track_nm, most.along_track_nm)
    return (
        f"No single fault to correct. What moved the roll-out most, by {moved:.2f} NM, was the "
        f"{cause_words(most.cause)}{_WHY_NOT.get(most.cause, '')}."
    )


#: Why what cost most is not advised on.
_WHY_NOT = {
    "rollout_heading": ": it was turned towards the course again, as it should be",
    "wind_change": ", which nobody flies",
    "arrival_heading": ", which came from the entry",
}


def _directions(share: WrittenShare) -> list[float]:
    numbers = [one for one in (share.fly, share.flown) if one is not None and one.reference == "true"]
    return [one.value for one in numbers if one.value is not None]
