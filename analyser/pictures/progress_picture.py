"""A pilot's points over the weeks, item by item."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analyser.pictures.paper import CIRCUITS, PENCIL, WASH, plain, sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from analyser.logbook.progress import Progress


def progress(found: Progress) -> Figure:
    """Draw the points of each item over time, and from where the grade asked for is proposed.

    Parameters
    ----------
    found : Progress
        With at least one session.
    """
    count = len(found.sessions)
    told = (
        f"{count} {'session' if count == 1 else 'sessions'}; a session's point is the median of its circuits"
    )
    figure, axes = sheet(f"Holding progress: {found.pilot}", told, wide_in=8.0)
    axes.axhspan(found.asked_points, 100.0, color=WASH, zorder=0)
    for place, one in enumerate(found.items):
        colour, dashes = CIRCUITS[place % len(CIRCUITS)]
        days = [mark.when for mark in one.marks]
        marker = "os^Dv"[place // len(CIRCUITS) % 5]
        axes.plot(
            days,  # type: ignore[arg-type]
            [mark.points for mark in one.marks],
            color=colour,
            linestyle=dashes,
            marker=marker,
            markersize=4,
            label=plain(one.item.title),
        )
    axes.set_ylim(0.0, 103.0)
    axes.set_ylabel("points")
    axes.annotate(
        f"{found.asked_points:.0f}: the grade asked for",
        (1.0, found.asked_points),
        xycoords=("axes fraction", "data"),
        ha="right",
        va="bottom",
        fontsize=7,
        color=PENCIL,
    )
    axes.tick_params(axis="x", labelrotation=30)
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return figure
