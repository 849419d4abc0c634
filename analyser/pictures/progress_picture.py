"""A pilot's points over the weeks, a small chart for each item."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from analyser.pictures.paper import CIRCUITS, PENCIL, WASH, plain, sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from analyser.logbook.progress import ItemProgress, Progress

_ACROSS = 4


def progress(found: Progress) -> Figure:
    """Draw the points of each item over time, and from where the grade asked for is proposed.

    Parameters
    ----------
    found : Progress
        With at least one session.
    """
    count = len(found.sessions)
    told = (
        f"{count} {'session' if count == 1 else 'sessions'}; a dot is the median of a session's circuits, the band "
        f"begins at {found.asked_points:.0f} points, from which the grade asked for is proposed"
    )
    down = max(1, math.ceil(len(found.items) / _ACROSS))
    figure, whole = sheet(f"Holding progress: {found.pilot}", "", wide_in=9.0, high_in=1.2 + 2.1 * down)
    whole.remove()
    charts = figure.subplots(down, _ACROSS, sharex=True, sharey=True, squeeze=False)
    figure.supylabel("points", fontsize=9)
    figure.supxlabel(f"{plain(told)}.\n{figure.get_supxlabel()}", x=0.02, ha="left", fontsize=7, color=PENCIL)
    for place, axes in enumerate(charts.flat):
        if place < len(found.items):
            _chart(axes, found.items[place], found.asked_points)
        else:
            axes.set_axis_off()
    return figure


def _chart(axes: Axes, one: ItemProgress, asked_points: float) -> None:
    days: Any = [mark.when for mark in one.marks]
    axes.axhspan(asked_points, 100.0, color=WASH, zorder=0)
    axes.plot(days, [mark.points for mark in one.marks], color=CIRCUITS[0][0], marker="o", markersize=3.5)
    axes.set_title(plain(one.item.title), loc="left", fontsize=9)
    axes.set_ylim(-4.0, 104.0)
    axes.tick_params(axis="x", labelrotation=40, labelsize=7)
    axes.tick_params(axis="y", labelsize=7)
