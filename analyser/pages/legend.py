"""The key to the lines: every phase with a sample of its line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from analyser.pages.phases import PHASES, Span


@dataclass(frozen=True)
class LegendLine:
    """One phase: its short code, its words, and a sample of its line."""

    code: str
    words: str
    sample: Markup


def legend(spans: Sequence[Span]) -> list[LegendLine]:
    """Return the key for the phases that occur.

    Parameters
    ----------
    spans : sequence of Span

    Returns
    -------
    list of LegendLine
    """
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
