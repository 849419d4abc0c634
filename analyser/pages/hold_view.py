"""Everything the template says about one hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from analyser.earth.variation import magnetic_variation
from analyser.pages import pictures
from analyser.pages.airspace import airspace_view, layer_sample
from analyser.pages.beside_rows import disagreement, lesson_rows, thumb_rows
from analyser.pages.budget_rows import budget_rows
from analyser.pages.entry_view import entry_view
from analyser.pages.ideal import exact_circuits
from analyser.pages.judged import circuit_rows, judged
from analyser.pages.leaving_view import leaving_view
from analyser.pages.legend import legend, line_sample
from analyser.pages.phases import spans
from analyser.pages.reflown import reflown_choices, reflown_paths
from analyser.pages.replay import replay
from analyser.pages.series import hold_series
from analyser.pages.verdict import circuit_advice, first_thing, no_advice, verdict_sentences
from analyser.pages.words import number

if TYPE_CHECKING:
    from analyser.debrief import HoldDebrief
    from analyser.grading.levels import LevelPlan


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
    flown = hold.flown
    subject = pictures.Subject(
        flown,
        document,
        hold_series(flown),
        spans(flown),
        exact_circuits(hold.judged),
        reflown_paths(document),
    )
    shown = _pictures(subject, hold.judged.levels)
    variation = document["variation"]
    circuits = [_circuit(circuit, variation) for circuit in document["circuits"]]
    return {
        "number": order,
        "doc": document,
        "variation": variation,
        "verdict": verdict_sentences(document),
        "first": first_thing(document),
        "pictures": shown,
        "legend": legend(subject.spans),
        "circuits": circuits,
        "rows": circuit_rows(document["circuits"], variation, document["scoring"]["clock"]["fixes"]),
        "items_rows": _items(circuits),
        "parts": [score_part(part) for part in document["scoring"]["parts"] if part["points"] is not None],
        "reflown": reflown_choices(document),
        "ideal_sample": line_sample("pencil", 1.3, (2.0, 2.4)),
        "regime_words": rules,
        "standard_words": standard,
        "variation_words": variation_words(document, start),
        "obtained": flown.motion.obtained,
        "entry": entry_view(document["entry"]),
        "arrival": [document["entry"]["arrival_heading_true"]] if document["entry"] else [],
        "lessons": lesson_rows(document["learning"], variation),
        "thumbs": thumb_rows(document["circuits"]),
        "leaving": leaving_view(document),
        "disagreement": disagreement(document),
        "airspace": airspace_view(subject),
        "area_sample": layer_sample(),
        "replay": replay(subject, _with_cursor(shown)),
    }


def variation_words(document: Mapping[str, Any], start: datetime | None) -> str:
    """Say the variation, and by which model and date.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.
    start : aware datetime or None
        Of the log.

    Returns
    -------
    str
        Where the document's variation is not the model's for the day, it came with the hold.
    """
    variation = document.get("variation")
    if variation is None:
        return "not known: courses are true"
    side = "E" if variation >= 0 else "W"
    plain = f"{abs(variation):.1f}° {side}"
    if start is None:
        return plain
    fix = document["fix"]
    model = magnetic_variation(fix["lat"], fix["lon"], document.get("altitude_ft") or 0.0, start)
    if abs(model.variation_deg - variation) > 0.06:
        return f"{plain}, as given with the hold (the model says {model.said()})"
    return model.said()


def _pictures(subject: pictures.Subject, levels: LevelPlan) -> dict[str, Any]:
    strips = pictures.strips_of(subject, levels)
    return {
        "plan": pictures.plan_picture(subject),
        "air": pictures.air_picture(subject),
        "side": pictures.side_picture(subject, strips),
        "strips": pictures.strip_pictures(subject, strips),
        "multiples": pictures.multiple_pictures(subject),
        "sectors": pictures.sector_picture(subject),
        "wind": pictures.wind_picture(subject),
    }


def _with_cursor(shown: Mapping[str, Any]) -> dict[str, pictures.Picture]:
    moving = {name: shown[name] for name in ("plan", "air", "side") if shown[name] is not None}
    return moving | {f"strip-{key}": picture for key, picture in shown["strips"]}


def _circuit(circuit: Mapping[str, Any], variation: float | None) -> dict[str, Any]:
    scores = {**circuit["scores"], "inbound_correction": circuit["inbound_correction"]}
    items = [judged(key, score) for key, score in scores.items()]
    return {
        "doc": circuit,
        "number": circuit["number"],
        "points": circuit["points"],
        "judged": items,
        "counted": items[:-1],
        "waterfalls": pictures.waterfall_pictures(circuit),
        "budget": budget_rows(circuit),
        "advice": circuit_advice(circuit, variation),
        "no_advice": no_advice(circuit),
    }


def score_part(part: Mapping[str, Any]) -> str:
    """Say a part of the hold's score with what it counts: ``"circuit 1 58 (counts 0.5)"``."""
    name = part["part"] if part["circuit"] is None else f"circuit {part['circuit']}"
    counts = "" if round(part["weight"], 2) == 1.0 else f" (counts {part['weight']:.2g})"
    return f"{name} {number(part['points'])}{counts}"


def _items(circuits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Turn the circuits' scores round: one row for each item, one cell for each circuit."""
    keys = list(dict.fromkeys(item.key for circuit in circuits for item in circuit["counted"]))
    rows = []
    for key in keys:
        cells = [next((one for one in circuit["counted"] if one.key == key), None) for circuit in circuits]
        title = next(cell.title for cell in cells if cell is not None)
        rows.append({"title": title, "cells": cells})
    return rows
