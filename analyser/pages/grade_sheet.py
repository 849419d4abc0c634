"""The grade sheet of a debrief page: filled in offline, saved as a small file, or printed and signed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from analyser.logbook.documents import entry_points
from analyser.logbook.marks import ENTRY, mean_points, proposable, title_of
from analyser.logbook.sheet import KIND, SCHEMA
from analyser.rules.scales import Scale, load_scales
from analyser.schema.debrief_file import WrittenHold, WrittenLog


def sheet_view(
    hold: WrittenHold, number: int, log: WrittenLog, scales: Sequence[Scale] = ()
) -> dict[str, Any]:
    """Gather what the template ``grade_sheet.html`` shows for one hold of a debrief document, counted from 1.

    Of ``scales``, by default those that come with the program, the first is chosen; ``data`` is the JSON text that the
    page's script works from.
    """
    offered = tuple(scales) or load_scales(())
    entry = {} if hold.entry is None else {ENTRY: entry_points(hold.entry.points, hold.entry.verdict)}
    circuits = [{key: score.points for key, score in one.scores.items()} for one in hold.circuits]
    found = mean_points(entry, circuits, hold.points)
    items = [
        _item(key, points, proposable(key, points, hold.grade), offered) for key, points in found.items()
    ]
    told = {
        "kind": KIND,
        "schema": SCHEMA,
        "log_sha256": log.sha256,
        "log_name": log.name,
        "hold": number,
        "items": [{key: item[key] for key in item if key != "proposed_title"} for item in items],
        "scales": [_scale(scale) for scale in offered],
    }
    return {
        "lines": items,
        "scales": offered,
        "chosen": offered[0],
        "data": json.dumps(told, ensure_ascii=True),
    }


def _item(key: str, points: float | None, worth: float | None, offered: Sequence[Scale]) -> dict[str, Any]:
    level = offered[0].propose(worth)
    return {
        "key": key,
        "title": title_of(key),
        "points": None if points is None else round(points, 1),
        "proposed": {scale.key: _proposed(scale, worth) for scale in offered},
        "proposed_title": None if level is None else level.title,
    }


def _proposed(scale: Scale, points: float | None) -> str | None:
    level = scale.propose(points)
    return None if level is None else level.key


def _scale(scale: Scale) -> dict[str, Any]:
    levels = [{"key": level.key, "title": level.title, "wording": level.wording} for level in scale.levels]
    return {"key": scale.key, "name": scale.name, "required": scale.required, "levels": levels}
