"""From a debrief document to the rows of the ``hold`` and ``measure`` tables."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

from analyser.errors import LogbookError
from analyser.logbook.names import storable

Document = Mapping[str, Any]
Row = dict[str, Any]


def check_document(document: Document) -> None:
    """Refuse what is no debrief document, before anything of it is kept.

    Raises
    ------
    LogbookError
        A part without which it cannot be kept is missing or of the wrong kind.
    """
    log, holds = document.get("log"), document.get("holds")
    if not isinstance(log, Mapping) or not isinstance(holds, list):
        raise _unfit("it has no 'log' or no 'holds'")
    mark = log.get("sha256")
    if not isinstance(mark, str) or len(mark) != 64 or not set(mark) <= set("0123456789abcdef"):
        raise _unfit("'log.sha256' is not a SHA-256")
    for hold in holds:
        if not isinstance(hold, Mapping) or not isinstance(hold.get("circuits"), list):
            raise _unfit("a hold in it has no 'circuits'")


def _unfit(why: str) -> LogbookError:
    return LogbookError(f"this is not a debrief document: {why}", mend="give the JSON of a debrief")


def starts(document: Document) -> datetime | None:
    """Return the instant of a log's first sample; None where the log has no date."""
    said = document["log"].get("start_utc")
    return None if said is None else datetime.fromisoformat(said)


def now() -> datetime:
    """Return the present instant, to the second."""
    return datetime.now(UTC).replace(microsecond=0)


def iso_utc(moment: datetime) -> str:
    """Write an instant in its one form, ``2026-03-14T17:05:00Z``; a naive one is taken as UTC."""
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return aware.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def hold_rows(document: Document) -> Iterator[tuple[Row, list[Row]]]:
    """Flatten a document into (hold row, its measure rows), without ids."""
    for number, hold in enumerate(document["holds"], start=1):
        yield _hold_row(number, hold), list(_measure_rows(hold))


def _hold_row(number: int, hold: Document) -> Row:
    fix, leg = hold.get("fix") or {}, hold.get("leg") or {}
    wind, entry = hold.get("wind") or {}, hold.get("entry") or {}
    return {
        "number": number,
        "name": storable(hold.get("name")),
        "fix_lat_deg": number_or_none(fix.get("lat")),
        "fix_lon_deg": number_or_none(fix.get("lon")),
        "inbound_course_true_deg": number_or_none(hold.get("inbound_course_true")),
        "turns": _word(hold.get("turns"), 10),
        "leg_minutes": number_or_none(leg.get("minutes")),
        "leg_distance_nm": number_or_none(leg.get("distance_nm")),
        "rules": _word(hold.get("rules"), 20),
        "wind_from_true_deg": number_or_none(wind.get("from_true")),
        "wind_speed_kt": number_or_none(wind.get("speed_kt")),
        "wind_sd_kt": number_or_none(wind.get("sd_kt")),
        "tas_wander_kt": number_or_none(hold.get("tas_wander_kt")),
        "tas_kt": number_or_none(hold.get("tas_kt")),
        "altitude_ft": number_or_none(hold.get("altitude_ft")),
        "entry_flown": _word(entry.get("flown"), 20),
        "entry_verdict": _word(entry.get("verdict"), 20),
        "circuits": len(hold["circuits"]),
        "points": number_or_none(hold.get("points")),
        "grade": _word(hold.get("grade"), 100),
    }


def _measure_rows(hold: Document) -> Iterator[Row]:
    """Give a row per circuit and item; the entry stands as circuit 0."""
    entry = hold.get("entry")
    if isinstance(entry, Mapping):
        points = entry_points(entry.get("points"), entry.get("verdict"))
        yield {"circuit": 0, "item": "entry", **_score(entry), "points": points}
    for place, circuit in enumerate(hold["circuits"], start=1):
        for item, score in (circuit.get("scores") or {}).items():
            if isinstance(score, Mapping):
                yield {"circuit": place, "item": storable(item, longest=60), **_score(score)}


def _score(score: Document) -> Row:
    figures = {key: number_or_none(score.get(key)) for key in ("points", "value", "target", "tolerance")}
    return {**figures, "verdict": storable(score.get("verdict") or "not judged", longest=40)}


def entry_points(points: object, verdict: object) -> float | None:
    """Give an entry its points: its own, else all or nothing by its verdict; None where it was not judged."""
    given = number_or_none(points)
    return {"correct": 100.0, "incorrect": 0.0}.get(str(verdict)) if given is None else given


def number_or_none(value: object) -> float | None:
    """Take a finite number, and nothing else, for a number."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if math.isfinite(value) else None


def _word(value: object, longest: int) -> str | None:
    return None if value is None else storable(value, longest=longest)
