"""The debrief page: one HTML file that reads, replays and prints without anything else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from analyser.pages.hold_view import hold_view
from analyser.pages.replay import phase_words
from analyser.pages.template import environment, island, shell

if TYPE_CHECKING:
    from analyser.debrief import Debrief
    from analyser.rules.scales import Scale


def render_page(debrief: Debrief, document: Mapping[str, Any], *, scales: Sequence[Scale] = ()) -> str:
    """Write the debrief of one log as a page.

    Parameters
    ----------
    debrief : Debrief
        The flown holds with their time series.
    document : mapping
        The same debrief as its JSON document: judged numbers and words come from here.
    scales : sequence of Scale, optional
        What the grade sheet offers, the first one chosen; by default the scales that come with the program.

    Returns
    -------
    str
        A complete HTML document that asks for nothing outside itself. The same input gives the same text.
    """
    found = zip(debrief.holds, document["holds"], strict=True)
    rules, standard = document["rules"]["document"], document["standard"]["name"]
    start = debrief.track.start_utc
    holds = [
        hold_view(hold, part, number, rules=rules, standard=standard, start=start)
        for number, (hold, part) in enumerate(found, 1)
    ]
    page = environment().get_template("debrief.html")
    return page.render(
        **shell(),
        log=document["log"],
        holds=holds,
        nearest_miss=debrief.nearest_miss,
        island=island({"phases": phase_words(), "holds": [hold["replay"] for hold in holds]}),
        document=document,
        scales=scales,
    )
