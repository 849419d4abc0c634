"""The debrief page: one HTML file that reads, replays and prints without anything else."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from analyser.grading.finding import SEVERITIES
from analyser.pages.replay_data import CODE, phase_words
from analyser.pages.search_view import search_view
from analyser.pages.shown_hold import hold_view
from analyser.pages.template import environment, island, shell

if TYPE_CHECKING:
    from analyser.debrief import Debrief
    from analyser.rules.scales import Scale
    from analyser.schema.debrief_file import WrittenDebrief, WrittenFit, WrittenHold


def render_page(
    debrief: Debrief,
    document: WrittenDebrief,
    *,
    scales: Sequence[Scale] = (),
    filled: Mapping[str, str] | None = None,
) -> str:
    """Write the debrief of one log as a page.

    Parameters
    ----------
    debrief : Debrief
        The flown holds with their time series.
    document : WrittenDebrief
        The same debrief as it is written: judged numbers and words come from here.
    scales : sequence of Scale, optional
        What the grade sheet offers, the first one chosen; by default the scales that come with the program.
    filled : mapping, optional
        What is known beforehand of the grade sheet: ``pilot``, ``instructor``, ``device``, ``lesson``.

    Returns
    -------
    str
        A complete HTML document that asks for nothing outside itself. The same input gives the same text.
    """
    found = zip(debrief.holds, document.holds, strict=True)
    holds = [
        hold_view(
            hold,
            part,
            number,
            rules=document.rules,
            standard=document.standard,
            start=debrief.track.start_utc,
        )
        for number, (hold, part) in enumerate(found, 1)
    ]
    page = environment().get_template("debrief.html")
    rendered = page.render(
        **shell(),
        log=document.log,
        holds=holds,
        first_hold=_first_hold(document.holds),
        magnetic_known=any(part.variation is not None for part in document.holds),
        misfits=_misfits(document.definition_fit),
        doubts=[
            _fit_words(fit) for fit in document.definition_fit if fit.code in ("flown-course", "flown-fix")
        ],
        nearest_miss=debrief.nearest_miss or "",
        search=search_view(debrief),
        island=island({"phases": phase_words(), "code": CODE, "holds": [hold.replay for hold in holds]}),
        document=document,
        scales=scales,
        filled=filled or {},
    )
    # Indentation is for who reads the templates.
    return re.sub(r"\n\s+", "\n", rendered)


def _misfits(fits: Sequence[WrittenFit]) -> list[str]:
    """Say which holds that were named were not flown, and why not; of a collection only that none fits."""
    flown = {(fit.file, fit.name) for fit in fits if fit.code.startswith("flown")}
    unfit = [fit for fit in fits if fit.named and (fit.file, fit.name) not in flown]
    if not flown and fits and not unfit:
        return [f"None of the {len(fits)} given holds nearby fits this flight."]
    return [_fit_words(fit) for fit in unfit]


def _fit_words(fit: WrittenFit) -> str:
    return f"{fit.name or fit.file or 'The given hold'}: {fit.sentence}"


def _first_hold(holds: Sequence[WrittenHold]) -> int:
    """Choose the hold that stands opened where there are several: the one that most needs talking of."""

    def need(hold: WrittenHold) -> tuple[int, float]:
        worst = hold.findings[0].severity if hold.findings else SEVERITIES[-1]
        return SEVERITIES.index(worst), hold.points if hold.points is not None else 100.0

    return 1 + min(range(len(holds)), key=lambda place: need(holds[place]), default=0)
