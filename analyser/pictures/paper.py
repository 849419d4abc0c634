"""The sheet that a picture is drawn on, and how it is written: the same picture gives the same file, byte for byte."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from io import BytesIO
from typing import TYPE_CHECKING, Any

from analyser import CAUTION_IN_SHORT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Endings that a picture can be written under.
ENDINGS = ("png", "svg", "pdf")
#: Ink on paper: flown, asked for, wrong, faint. Circuits differ in dashes too, so that nothing hangs on colour.
INK, PENCIL, MARK, RULE, WASH = "#17222b", "#5d666d", "#b01030", "#d5dad6", "#e3e9e2"
CIRCUITS = (
    ("#17498f", "-"),
    ("#a34d00", (0, (6, 2))),
    ("#1c6b3c", (0, (4, 1.5, 1, 1.5))),
    ("#6a2f8f", (0, (2, 1))),
    ("#006a75", (0, (8, 2, 2, 2))),
)
_DOTS_PER_INCH = 200
_STYLE: Any = {
    # Text stays text, and ids are the same in every run.
    "svg.fonttype": "none",
    "svg.hashsalt": "analyser",
    "pdf.fonttype": 42,
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.edgecolor": PENCIL,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": PENCIL,
    "ytick.color": PENCIL,
    "legend.frameon": False,
    "lines.linewidth": 1.4,
}


def sheet(title: str, subtitle: str, *, wide_in: float = 7.2, high_in: float = 5.4) -> tuple[Figure, Axes]:
    """Begin a picture: a slide's shape, its title, what it shows, and what it is not for.

    Titles are untrusted text, drawn as it stands.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_in, high_in), layout="constrained", facecolor="white")
    axes = figure.add_subplot()
    figure.suptitle(plain(title), x=0.02, ha="left", fontsize=13)
    axes.set_title(plain(subtitle), loc="left", fontsize=9, color=PENCIL)
    figure.supxlabel(CAUTION_IN_SHORT, x=0.02, ha="left", fontsize=7, color=PENCIL)
    return figure, axes


def written(draw: Callable[[], Figure], ending: str) -> bytes:
    """Draw a picture and write it under one of :data:`ENDINGS`."""
    import matplotlib

    # The time of making is left out, and so is the name of what made it: it would change with each version.
    nothing: dict[str, dict[str, Any]] = {
        "png": {"Software": None},
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
    }
    made = BytesIO()
    with matplotlib.rc_context(_STYLE), warnings.catch_warnings():
        # A character that the font lacks is drawn as a box; there is no need of a warning about it.
        warnings.simplefilter("ignore", UserWarning)
        draw().savefig(made, format=ending, dpi=_DOTS_PER_INCH, metadata=nothing[ending])
    return made.getvalue()


def plain(text: str) -> str:
    """Free text of what is no letter: it comes with a log."""
    return "".join(sign if sign.isprintable() else " " for sign in str(text))
