"""The phases of a flown hold as one unbroken run of spans, for pictures and replay, and the key to their lines."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from analyser.circuits.flown import Circuit, FlownHold
from analyser.frozen import dataclass

#: Phase → (short code in the page, words, ink, line width, dashes, what its clock counts).
#: Turns are thick and legs thin, the outbound half unbroken and the inbound half dashed, so that the
#: phases can be told apart without any colour.
PHASES: dict[str, tuple[str, str, str, float, tuple[float, ...] | None, str]] = {
    "approach": ("ap", "before the fix", "other", 1.0, (1.5, 3.0), "before the fix"),
    "entry": ("en", "entry", "entry", 1.9, (1.6, 2.4), "entry"),
    "outbound_turn": ("ot", "outbound turn", "out", 3.0, None, "outbound turn"),
    "outbound_leg": ("ol", "outbound leg", "out", 1.5, None, "outbound clock"),
    "inbound_turn": ("it", "inbound turn", "in", 3.0, (8.0, 2.2), "inbound turn"),
    "inbound_leg": ("il", "inbound leg", "in", 1.5, (8.0, 2.2), "inbound clock"),
    "departure": ("de", "after the hold", "other", 1.0, (1.5, 3.0), "after the hold"),
}


@dataclass(frozen=True)
class Span:
    """One phase in time.

    Attributes
    ----------
    phase : str
        A key of :data:`PHASES`.
    circuit : int
        The circuit's number, 0 outside circuits.
    start_s, end_s : float
        Seconds from the log's first sample.
    clock_s : float
        Where the phase's clock starts: the outbound one by the rules, the others with the phase.
    """

    phase: str
    circuit: int
    start_s: float
    end_s: float
    clock_s: float


def spans(flown: FlownHold) -> list[Span]:
    """Cut a flown hold's whole stretch into phases.

    Returns
    -------
    list of Span
        In order of time, each beginning where the one before ends; parts never flown are left out.
    """
    first, last = float(flown.motion.time_s[0]), float(flown.motion.time_s[-1])
    marks: list[tuple[str, int, float, float]] = [("approach", 0, first, first)]
    if flown.entry is not None:
        marks.append(("entry", 0, flown.entry.fix_s, flown.entry.fix_s))
    for circuit in flown.circuits:
        marks += _marks(circuit)
    end = max([flown.end_s, *(circuit.end_s for circuit in flown.circuits)])
    marks.append(("departure", 0, end, end))
    closed = zip(marks, [*(mark[2] for mark in marks[1:]), last], strict=True)
    return [
        Span(phase, number, start, until, clock)
        for (phase, number, start, clock), until in closed
        if until - start > 1e-6
    ]


def _marks(circuit: Circuit) -> list[tuple[str, int, float, float]]:
    number = circuit.number
    marks = []
    if circuit.outbound_turn is not None:
        # Between the fix and the first bank there is nothing but the pilot's reaction: part of the turn.
        marks.append(("outbound_turn", number, circuit.start_s, circuit.outbound_turn.start_s))
    if circuit.outbound_leg is not None:
        level = circuit.outbound_leg.start_s
        marks.append(("outbound_leg", number, level, max(level, circuit.abeam_s or level)))
    if circuit.inbound_turn is not None:
        marks.append(("inbound_turn", number, circuit.inbound_turn.start_s, circuit.inbound_turn.start_s))
    if circuit.inbound_leg is not None:
        marks.append(("inbound_leg", number, circuit.inbound_leg.start_s, circuit.inbound_leg.start_s))
    return marks


@dataclass(frozen=True)
class LegendLine:
    """One phase: its short code, its words, and a sample of its line."""

    code: str
    words: str
    sample: Markup


def legend(spans: Sequence[Span]) -> list[LegendLine]:
    """Return the key for the phases that occur."""
    flown = {span.phase for span in spans}
    return [
        LegendLine(code, words, line_sample(ink, width, dash))
        for phase, (code, words, ink, width, dash, _) in PHASES.items()
        if phase in flown
    ]


def line_sample(ink: str, width: float, dash: Sequence[float] | None = None) -> Markup:
    """Draw a short piece of line for a key."""
    dashes = f' stroke-dasharray="{" ".join(f"{step:g}" for step in dash)}"' if dash else ""
    return Markup(
        '<svg class="sample" viewBox="0 0 34 10" aria-hidden="true">'
        f'<path fill="none" stroke="var(--ink-{ink})" stroke-width="{width:g}"{dashes} d="M1 5L33 5"/></svg>'
    )
