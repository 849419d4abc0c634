"""What a debrief page costs beside eight bare matplotlib figures, in one process and by its own time."""

from __future__ import annotations

import io
import time
from collections.abc import Callable

import numpy as np

from tests.pages_fixture import debriefed, rendered

BOUND = 1.5
FIGURES = 8


def bare_figures() -> None:
    """Draw a line of 600 points eight times, each as a picture of its own."""
    from matplotlib.figure import Figure

    x = np.linspace(0.0, 10.0, 600)
    for _ in range(FIGURES):
        figure = Figure()
        figure.subplots().plot(x, np.sin(x))
        figure.savefig(io.StringIO(), format="svg")


def ratios(rounds: int, holds: int = 1) -> list[float]:
    """Render a page and draw the figures in turns; what is loaded late is loaded before."""
    debrief, document = debriefed(holds=holds)

    def page() -> None:
        rendered(debrief, document)

    bare_figures(), page()
    return [_seconds(page) / _seconds(bare_figures) for _ in range(rounds)]


def _seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start
