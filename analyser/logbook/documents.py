"""What the logbook reads of a debrief document: of either schema, once, and tolerant of what is missing.

The debrief file has its own types for what this program writes (:mod:`analyser.schema.debrief_file`). A logbook also
keeps documents that older programs wrote, and gives none of them up: what could not be read is None.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import UTC, datetime
from itertools import starmap
from typing import Any

from analyser.errors import LogbookError
from analyser.frozen import dataclass
from analyser.logbook.names import storable

Document = Mapping[str, Any]


def check_document(document: Document) -> None:
    """Refuse what is no debrief document, before anything of it is kept.

    Raises LogbookError: a part without which it cannot be kept is missing or of the wrong kind.
    """
    why, log, holds = "", document.get("log"), document.get("holds")
    if not isinstance(log, Mapping) or not isinstance(holds, list):
        why = "it has no 'log' or no 'holds'"
    elif not isinstance(mark := log.get("sha256"), str) or not re.fullmatch("[0-9a-f]{64}", mark):
        why = "'log.sha256' is not a SHA-256"
    elif not all(isinstance(one, Mapping) and isinstance(one.get("circuits"), list) for one in holds):
        why = "a hold in it has no 'circuits'"
    else:
        try:
            starts(document)
        except (TypeError, ValueError):
            why = "'log.start_utc' is no instant"
    if why:
        raise LogbookError(f"this is not a debrief document: {why}", mend="give the JSON of a debrief")


def starts(document: Document) -> datetime | None:
    """Return the instant of a log's first sample; None where the log has no date."""
    said = document["log"].get("start_utc")
    return None if said is None else datetime.fromisoformat(said)


def lasts_s(document: Document) -> float | None:
    """Return how long a log is, seconds; None where the document does not say."""
    return number_or_none(document["log"].get("duration_s"))


def now() -> datetime:
    """Return the present instant, to the second."""
    return datetime.now(UTC).replace(microsecond=0)


def iso_utc(moment: datetime) -> str:
    """Write an instant in its one form, ``2026-03-14T17:05:00Z``; a naive one is taken as UTC."""
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return aware.astimezone(UTC).replace(microsecond=0, tzinfo=None).isoformat() + "Z"


@dataclass(frozen=True)
class LoggedScore:
    """One item of a circuit, or an entry, as it was judged; ``deviation`` is the measure minus its target."""

    points: float | None
    value: float | None
    target: float | None
    tolerance: float | None
    deviation: float | None
    unit: str
    verdict: str

    @property
    def within(self) -> bool:
        """Whether it was within its tolerance, or the right entry."""
        return self.verdict in ("within", "correct")


@dataclass(frozen=True)
class LoggedCircuit:
    """One circuit: from when to when, and its items by key."""

    start_s: float | None
    end_s: float | None
    complete: bool
    scores: Mapping[str, LoggedScore]


@dataclass(frozen=True)
class LoggedHold:
    """One hold of a log, counted from 1.

    ``unsafe`` are the sentences on what was, None where the program that wrote the document did not look for it.
    """

    number: int
    name: str
    fix_lat_deg: float | None
    fix_lon_deg: float | None
    inbound_course_true_deg: float | None
    turns: str | None
    leg_minutes: float | None
    leg_distance_nm: float | None
    rules: str | None
    wind_from_true_deg: float | None
    wind_speed_kt: float | None
    wind_sd_kt: float | None
    tas_wander_kt: float | None
    tas_kt: float | None
    altitude_ft: float | None
    entry_flown: str | None
    entry_verdict: str | None
    points: float | None
    grade: str | None
    entry: LoggedScore | None
    circuits: tuple[LoggedCircuit, ...]
    unsafe: tuple[str, ...] | None

    def columns(self) -> dict[str, Any]:
        """Return the row of the ``hold`` table, without ids."""
        plain = {one.name: getattr(self, one.name) for one in fields(self)}
        del plain["entry"], plain["unsafe"]
        return plain | {"circuits": len(self.circuits)}

    def measures(self) -> Iterator[tuple[int, str, LoggedScore]]:
        """Go through what was judged: circuit, item and score; the entry stands as circuit 0."""
        if self.entry is not None:
            yield 0, "entry", self.entry
        for place, circuit in enumerate(self.circuits, start=1):
            for item, score in circuit.scores.items():
                yield place, item, score


def logged_holds(document: Document) -> tuple[LoggedHold, ...]:
    """Read the holds of a document that was checked."""
    return tuple(starmap(_hold, enumerate(document["holds"], start=1)))


def _hold(number: int, hold: Document) -> LoggedHold:
    fix, leg = hold.get("fix") or {}, hold.get("leg") or {}
    wind, entry = hold.get("wind") or {}, hold.get("entry") or {}
    findings = hold.get("findings")
    unsafe = [one for one in findings or () if isinstance(one, Mapping) and one.get("severity") == "unsafe"]
    return LoggedHold(
        number=number,
        name=storable(hold.get("name")),
        fix_lat_deg=number_or_none(fix.get("lat")),
        fix_lon_deg=number_or_none(fix.get("lon")),
        inbound_course_true_deg=number_or_none(hold.get("inbound_course_true")),
        turns=_word(hold.get("turns"), 10),
        leg_minutes=number_or_none(leg.get("minutes")),
        leg_distance_nm=number_or_none(leg.get("distance_nm")),
        rules=_word(hold.get("rules"), 20),
        wind_from_true_deg=number_or_none(wind.get("from_true")),
        wind_speed_kt=number_or_none(wind.get("speed_kt")),
        wind_sd_kt=number_or_none(wind.get("sd_kt")),
        tas_wander_kt=number_or_none(hold.get("tas_wander_kt")),
        tas_kt=number_or_none(hold.get("tas_kt")),
        altitude_ft=number_or_none(hold.get("altitude_ft")),
        entry_flown=_word(entry.get("flown"), 20),
        entry_verdict=_word(entry.get("verdict"), 20),
        points=number_or_none(hold.get("points")),
        grade=_word(hold.get("grade"), 100),
        entry=_score(entry, entry_points(entry.get("points"), entry.get("verdict"))) if entry else None,
        circuits=tuple(_circuit(one) for one in hold["circuits"]),
        unsafe=None
        if findings is None
        else tuple(str(one.get("sentence") or one.get("kind")) for one in unsafe),
    )


def _circuit(circuit: Document) -> LoggedCircuit:
    scores = circuit.get("scores") or {}
    return LoggedCircuit(
        start_s=number_or_none(circuit.get("start_s")),
        end_s=number_or_none(circuit.get("end_s")),
        complete=bool(circuit.get("complete")),
        scores={
            storable(key, longest=60): _score(score, number_or_none(score.get("points")))
            for key, score in scores.items()
            if isinstance(score, Mapping)
        },
    )


def _score(score: Document, points: float | None) -> LoggedScore:
    names = ("value", "target", "tolerance", "deviation")
    value, target, tolerance, deviation = (number_or_none(score.get(name)) for name in names)
    if deviation is None and value is not None and target is not None:
        deviation = value - target
    verdict = storable(score.get("verdict") or "not judged", longest=40)
    return LoggedScore(points, value, target, tolerance, deviation, str(score.get("unit") or ""), verdict)


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
