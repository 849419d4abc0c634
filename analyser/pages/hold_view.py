"""Everything the template says about one hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from analyser.pages import pictures
from analyser.pages.airspace import airspace_view, layer_sample
from analyser.pages.circuit_views import circuit_views, put_together
from analyser.pages.entry_view import entry_view
from analyser.pages.hold_definition import course_words, disagreement, variation_words
from analyser.pages.leaving_view import leaving_view
from analyser.pages.map_paths import exact_circuits, reflown_choices, reflown_paths
from analyser.pages.opening import opening
from analyser.pages.phases import legend, line_sample, spans
from analyser.pages.replay import replay
from analyser.pages.score_rows import COLUMNS, circuit_rows
from analyser.pages.section_rows import lesson_rows, source_rows, thumb_rows
from analyser.pages.sections import leg_words, replay_words, sections
from analyser.pages.series import hold_series
from analyser.pages.show_steps import show_steps
from analyser.pages.words import number

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.grading.keeping import LevelPlan
    from analyser.pages.figures.sheet import Sheet


def hold_view(
    hold: HoldDebrief,
    document: Mapping[str, Any],
    order: int,
    *,
    rules: str,
    standard: str,
    start: datetime | None,
) -> dict[str, Any]:
    """Gather what the template shows of one hold.

    Parameters
    ----------
    hold : HoldDebrief
    document : mapping
        The hold's part of the debrief document.
    order : int
        From 1, in order of time.
    rules, standard : str
        What it was judged by, in words.
    start : aware datetime or None
        Of the log.

    Returns
    -------
    dict
        For the template ``hold.html``.
    """
    subject = _subject(hold, document, order)
    map_sheet = pictures.plan_sheet(subject)
    shown = _pictures(subject, map_sheet, hold.judged.levels)
    variation = document["variation"]
    circuits = circuit_views(document, reflown_choices(document))
    first = opening(document)
    view = {
        "number": order,
        "ids": subject.ids,
        "doc": document,
        "variation": variation,
        "opening": first,
        "course": course_words(document),
        "leg": leg_words(document["leg"]),
        "pictures": shown,
        "legend": legend(subject.spans),
        "circuits": circuits,
        "put_together": put_together(circuits),
        "columns": COLUMNS,
        "rows": circuit_rows(document["circuits"], variation),
        "parts": [score_part(part) for part in document["scoring"]["parts"] if part["points"] is not None],
        "ideal_sample": line_sample("pencil", 1.3, (2.0, 2.4)),
        "regime_words": rules,
        "standard_words": standard,
        "variation_words": variation_words(document, start),
        "obtained": hold.flown.motion.obtained,
        "entry": entry_view(document["entry"]),
        "lessons": lesson_rows(document["learning"], variation),
        "thumbs": thumb_rows(document["circuits"]),
        "leaving": leaving_view(document, subject.ids),
        "disagreement": disagreement(document),
        "airspace": airspace_view(subject, map_sheet),
        "area_sample": layer_sample(),
        "replay_words": replay_words(document),
        "sources": source_rows(document),
        "steps": show_steps(subject, map_sheet, first, circuits),
        "replay": replay(subject, _with_cursor(shown), first.circuit),
    }
    return view | {"sections": sections(view)}


def _subject(hold: HoldDebrief, document: Mapping[str, Any], order: int) -> pictures.Subject:
    flown = hold.flown
    return pictures.Subject(
        flown,
        document,
        hold_series(flown),
        spans(flown),
        exact_circuits(hold.judged),
        reflown_paths(document),
        order,
    )


def _pictures(subject: pictures.Subject, map_sheet: Sheet, levels: LevelPlan) -> dict[str, Any]:
    strips = pictures.strips_of(subject, levels)
    return {
        "plan": pictures.plan_picture(subject, map_sheet),
        "air": pictures.air_picture(subject),
        "side": pictures.side_picture(subject, strips),
        "strips": pictures.strip_pictures(subject, strips),
        "circuits": pictures.circuit_pictures(subject, map_sheet),
        "sectors": pictures.sector_picture(subject),
        "wind": pictures.wind_picture(subject),
    }


def _with_cursor(shown: Mapping[str, Any]) -> dict[str, pictures.Picture]:
    moving = {name: shown[name] for name in ("plan", "air", "side") if shown[name] is not None}
    return moving | {f"strip-{key}": picture for key, picture in shown["strips"]}


def score_part(part: Mapping[str, Any]) -> str:
    """Say a part of the hold's score with what it counts: ``"circuit 1 58 (counts 0.5)"``."""
    name = part["part"] if part["circuit"] is None else f"circuit {part['circuit']}"
    counts = "" if round(part["weight"], 2) == 1.0 else f" (counts {part['weight']:.2g})"
    return f"{name} {number(part['points'])}{counts}"
