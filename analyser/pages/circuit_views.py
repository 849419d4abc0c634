"""What the page says of each circuit: its numbers, their table, and what moved it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from analyser.frozen import dataclass
from analyser.grading.wording import sentence
from analyser.pages import pictures
from analyser.pages.captions import cause_words
from analyser.pages.words import heading, missing, quantity, turnable
from analyser.rules.graded_items import GradedItem, item_of

if TYPE_CHECKING:
    from analyser.schema.debrief_file import (
        WrittenCircuit,
        WrittenHold,
        WrittenInboundLeg,
        WrittenOutboundLeg,
        WrittenScore,
        WrittenShare,
        WrittenTurn,
    )


@dataclass(frozen=True)
class Judged:
    """One item of one circuit: what it is called, its score in the debrief file, and the numbers ready for the page."""

    item: GradedItem
    score: WrittenScore

    @property
    def value(self) -> Markup:
        """What was flown; an error from something has its sign."""
        return self._written(self.score.value, signed=self.score.reference is not None)

    @property
    def target(self) -> Markup:
        """What was right: where the value is an error from something, that something."""
        reference = self.score.reference
        return self._written(self.score.target if reference is None else reference)

    @property
    def tolerance(self) -> Markup:
        """How far the value may be off."""
        allowed = self.score.tolerance
        if allowed is None:
            return missing("none set")
        return Markup("±") + quantity(allowed, self.score.unit, self.item.decimals)

    @property
    def uncertainty(self) -> Markup:
        """Two sigmas of the value, where that says anything."""
        spread = self.score.sd
        # Half a circle to either side: nothing is known of an angle.
        if spread is None or (self.score.unit == "°" and 2 * spread >= 180.0):
            return missing("not known")
        return Markup("±") + quantity(2 * spread, self.score.unit, max(self.item.decimals, 1))

    def _written(self, value: float | None, *, signed: bool = False) -> Markup:
        if value is None:
            return missing("not known")
        return quantity(value, self.score.unit, self.item.decimals, signed=signed)


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
    """Lay out the table of circuits: one row each, its cells under :data:`COLUMNS`."""
    return [(c, _circuit_cells(c, variation)) for c in circuits]


def _circuit_cells(c: WrittenCircuit, variation: float | None) -> list[ScoreCell]:
    out, inbound = c.outbound_leg, c.inbound_leg
    outside = {key: score.outside for key, score in c.scores.items()}
    return [
        _outbound_time(out, "outbound" in c.timed and outside["timing"]),
        _heading(out, variation, outside["wind_correction"]),
        _bank(c.outbound_turn),
        _bank(c.inbound_turn),
        _side(c.rollout_cross_track_nm),
        ScoreCell(missing())
        if inbound is None
        else _time(inbound.duration_s, inbound.ideal_duration_s, c.timed == "inbound" and outside["timing"]),
        _heading(inbound, variation, False),
        ScoreCell(
            quantity(None if inbound is None else inbound.cross_track_rms_nm, "NM", 2), None, outside["track"]
        ),
        ScoreCell(quantity(c.fix_miss_nm, "NM", 2)),
        ScoreCell(quantity(c.altitude_error_max_ft, "ft", 0, signed=True), None, outside["altitude"]),
        ScoreCell(quantity(c.speed_error_max_kt, "kt", 0, signed=True), None, outside["speed"]),
    ]


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

    ``line`` is what its folded line says, ``judged`` the items that carry points, in order, and what is shown beside
    them, ``advice`` the most costly fault first.
    """

    doc: WrittenCircuit
    opened: bool
    line: Markup
    judged: list[Judged]
    waterfalls: list[pictures.Picture]
    advice: list[Markup]
    no_advice: str

    @property
    def counted(self) -> list[Judged]:
        """The items that carry points."""
        return self.judged[:-1]


def circuit_views(document: WrittenHold) -> list[CircuitView]:
    """Gather what the page says of each circuit of a hold."""
    opened = shown_first(document.circuits)
    return [_view(one, document.variation, one.number in opened) for one in document.circuits]


def shown_first(circuits: Sequence[WrittenCircuit]) -> set[int]:
    """Choose the circuits that are shown opened: the worst, the best and the last."""
    judged = [c for c in circuits if c.points is not None]
    chosen = {c.number for c in circuits[-1:]}
    if judged:
        chosen |= {pick(judged, key=lambda c: c.points or 0.0).number for pick in (min, max)}
    return chosen


def folded_together(circuits: Sequence[CircuitView]) -> list[CircuitView]:
    """Return the circuits that share one folded line, where there are too many for a line each."""
    return [] if len(circuits) <= _EACH else [one for one in circuits if not one.opened]


def _view(circuit: WrittenCircuit, variation: float | None, opened: bool) -> CircuitView:
    advice, lacking = circuit_advice(circuit, variation), no_advice(circuit)
    line = advice[0] if advice else escape(sentence(lacking))
    items = [Judged(item_of(key), score) for key, score in circuit.all_scores.items()]
    falls = pictures.waterfall_pictures(circuit)
    return CircuitView(circuit, opened, line, items, falls, advice, lacking)


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

    Why there is no budget, to follow a colon; else a sentence: nothing cost enough, or what cost most is nothing to
    correct.
    """
    if not circuit.error_budget:
        return f"{circuit.error_budget_missing or 'too little of this circuit was flown or recorded'}."
    if not any(score.outside for score in circuit.scores.values()):
        return "Nothing moved the roll-out enough to speak of."
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
