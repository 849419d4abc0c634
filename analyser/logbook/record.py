"""Writing into the logbook: a debrief, the same flight once, with the versions that made it; and grades.

Grades are always added, never written over, with who gave what and when, in the order of their arrival.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import Connection, func, insert, select, update

import analyser
from analyser.errors import LogbookError, UsageError
from analyser.frozen import dataclass
from analyser.logbook.documents import check_document, iso_utc, lasts_s, logged_holds, starts
from analyser.logbook.marks import item_points, proposable
from analyser.logbook.names import alike, counted, name_key, storable
from analyser.logbook.sessions import Given, Session, Trace, session_key
from analyser.logbook.tables import debrief, grade, hold, measure, person, recording, session
from analyser.logbook.trace import SAME_LENGTH_S, Relation, relation

Kind = Literal["new", "already there", "re-debriefed", "longer", "taken out"]


@dataclass(frozen=True)
class RecordOutcome:
    """What recording a debrief came to: the session's key, and one sentence for the person."""

    kind: Kind
    session: str
    message: str


@dataclass(frozen=True, kw_only=True)
class NewDebrief:
    """A debrief on its way into the logbook; names are cleaned, and None leaves what is there."""

    document: Mapping[str, Any]
    flight: int
    pilot: str
    instructor: str | None = None
    device: str | None = None
    lesson: str | None = None
    flown: datetime | None = None
    trace: Trace | None
    program_version: str
    rules_version: str
    recorded: datetime

    @property
    def log_sha256(self) -> str:
        """Hash of the log."""
        return str(self.document["log"]["sha256"])

    @property
    def log_name(self) -> str:
        """The log's name, fit for a text column."""
        return storable(self.document["log"].get("name"))


def canonical(document: Mapping[str, Any]) -> str:
    """Write a document as its one text: plain ASCII, so that any database keeps any character."""
    return _as_text(document, sort_keys=False)


def fingerprint(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of what a document says of the flight, whatever the order of its keys.

    The log's name and the block that tells of the file's making are left out: a log that was renamed, or
    debriefed into another folder, has the same result.
    """
    said = {key: value for key, value in document.items() if key != "program"}
    said["log"] = {key: value for key, value in document["log"].items() if key != "name"}
    return hashlib.sha256(_as_text(said, sort_keys=True).encode("ascii")).hexdigest()


def _as_text(document: Mapping[str, Any], *, sort_keys: bool) -> str:
    try:
        return json.dumps(
            document, sort_keys=sort_keys, allow_nan=False, separators=(",", ":"), ensure_ascii=True
        )
    except (TypeError, ValueError) as fault:
        raise LogbookError(f"this debrief cannot be kept: {fault}") from fault


def write_entry(connection: Connection, entry: NewDebrief) -> RecordOutcome:
    """Write a debrief, in a writing transaction.

    Raises LogbookError if it is no debrief document, or the flight is there already as another pilot's.
    """
    check_document(entry.document)
    known = _session_of(connection, recording.c.log_sha256 == entry.log_sha256, entry.flight)
    found: Relation | None = None
    if known is None:
        twin = same_flight(connection, entry)
        if twin is None:
            everybody = connection.execute(select(person.c.name)).scalars().all()
            number = _new_session(connection, entry)
            add_debrief(connection, number, entry)
            key = session_key(entry.log_sha256, entry.flight)
            said = f"kept in the logbook as a new session of {_called(entry, key, everybody)}"
            return RecordOutcome("new", key, said)
        known, found = twin
    key = session_key(known.log_sha256, known.flight)
    if known.removed_utc:
        said = "was taken out of the logbook; nothing was added (analyser logbook trail shows how to put it back)"
        return RecordOutcome("taken out", key, said)
    if known.name_key != name_key(entry.pilot):
        raise LogbookError(
            f"this {'flight' if found else 'log'} is in the logbook already, as flown by {known.name}"
            + (f" (log {known.log_name})" if found else ""),
            file=entry.log_name,
            mend=f"if that is wrong: analyser logbook move {key[:8] + key[64:]} --pilot NAME",
        )
    kept_as = _complete(connection, known, entry)
    if found:
        add_recording(connection, known.id, entry.document, entry.flight)
    kind, said = (_longer if found == "longer" else _again)(connection, known, entry)
    return RecordOutcome(kind, key, said + kept_as)


#: Sessions with the name of the pilot.
_WITH_PILOT = select(session, person.c.name, person.c.name_key).join(
    person, person.c.id == session.c.pilot_id
)
#: Two names that are so much alike may be one person's; sisters' and brothers' mostly are not.
_ALIKE = 0.85


def _called(entry: NewDebrief, key: str, everybody: Sequence[str]) -> str:
    """Name the pilot as the logbook does; of a new name that is much like another's that is asked about."""
    written = {name_key(one): one for one in everybody}.get(name_key(entry.pilot))
    close = [] if written else alike(entry.pilot, everybody, cutoff=_ALIKE)
    if not close:
        return written or entry.pilot
    mend = f'analyser logbook move {key[:8] + key[64:]} --pilot "{close[0]}"'
    return f"{entry.pilot}, who is new to it; if {close[0]} flew it: {mend}"


def _session_of(connection: Connection, which: Any, flight: int) -> Any:
    recorded = _WITH_PILOT.join(recording, recording.c.session_id == session.c.id)
    return connection.execute(recorded.where(which, recording.c.flight == flight)).one_or_none()


def same_flight(connection: Connection, entry: NewDebrief) -> tuple[Any, Relation] | None:
    """Find the session whose flight this is, recorded in another file."""
    if entry.trace is None or not entry.trace.flight:
        return None
    begins = starts(entry.document)
    when = recording.c.starts_utc.is_(None)
    if begins is not None:
        ends = begins + timedelta(seconds=entry.trace.flight[-1][0] + 1.0)
        # Texts of instants sort as the instants do; nothing that began more than a day before is still going on.
        when = recording.c.starts_utc.between(iso_utc(begins - timedelta(days=1))[:19], iso_utc(ends))
    candidates = connection.execute(
        select(recording.c.session_id).where(when, recording.c.lasts_s.is_not(None)).distinct()
    ).scalars()
    for number in list(candidates):
        latest = connection.execute(
            select(debrief.c.document, debrief.c.trace)
            .where(debrief.c.session_id == number, debrief.c.trace.like('{"%'))
            .order_by(debrief.c.rank.desc())
            .limit(1)
        ).one_or_none()
        kept = Trace.from_json(json.loads(latest.trace)) if latest else None
        if latest is None or kept is None:
            continue
        found = relation(entry.trace, begins, kept, starts(json.loads(latest.document)))
        if found:
            return connection.execute(_WITH_PILOT.where(session.c.id == number)).one(), found
    return None


def _new_session(connection: Connection, entry: NewDebrief) -> int:
    logged = starts(entry.document)
    flown = entry.flown or logged
    values = {
        "log_sha256": entry.log_sha256,
        "flight": entry.flight,
        "log_name": entry.log_name,
        "flown_utc": iso_utc(flown) if flown else None,
        "flown_from": "given" if entry.flown else "log" if flown else "unknown",
        "pilot_id": person_id(connection, entry.pilot),
        "instructor_id": person_id(connection, entry.instructor) if entry.instructor else None,
        "device": entry.device,
        "lesson": entry.lesson,
        "recorded_utc": iso_utc(entry.recorded),
    }
    number = inserted(connection, session, values)
    add_recording(connection, number, entry.document, entry.flight)
    return number


def add_recording(connection: Connection, number: int, document: Mapping[str, Any], flight: int) -> None:
    """Keep that a log holds the flight of a session, unless that is known."""
    log = document["log"]
    known = select(recording.c.id).where(
        recording.c.log_sha256 == log["sha256"], recording.c.flight == flight
    )
    if connection.execute(known).first() is None:
        values = {
            "session_id": number,
            "log_sha256": log["sha256"],
            "flight": flight,
            "log_name": storable(log.get("name")),
            "starts_utc": log.get("start_utc"),
            "lasts_s": lasts_s(document),
        }
        connection.execute(insert(recording).values(**values))


def _complete(connection: Connection, known: Any, entry: NewDebrief) -> str:
    """Fill in what was not known; what was said before stays, and the person is told."""
    named = select(person.c.name).where(person.c.id == known.instructor_id)
    instructor = connection.execute(named).scalar_one_or_none()
    before = {"instructor": instructor, "device": known.device, "lesson": known.lesson}
    said = {key: value for key in before if (value := getattr(entry, key))}
    new: dict[str, Any] = {key: value for key, value in said.items() if before[key] is None}
    if "instructor" in new:
        new["instructor_id"] = person_id(connection, new.pop("instructor"))
    if entry.flown:
        new |= {"flown_utc": iso_utc(entry.flown), "flown_from": "given"}
    if new:
        connection.execute(update(session).where(session.c.id == known.id).values(**new))
    stays = [
        f"{key} {there}"
        for key, value in said.items()
        if (there := before[key]) is not None and name_key(value) != name_key(there)
    ]
    reference = session_key(known.log_sha256[:8], known.flight)
    return (
        f"; kept as it was: {', '.join(stays)} (analyser logbook set {reference} changes it)" if stays else ""
    )


def fill_gaps(
    connection: Connection, number: int, *, flown_utc: str | None, flown_from: str, **said: Any
) -> int:
    """Fill in what a session has nothing of yet, None left out; return how much that was.

    ``said`` are columns of the session.
    """
    known = connection.execute(select(session).where(session.c.id == number)).one()
    told = {**said, "flown_utc": flown_utc}
    new = {key: value for key, value in told.items() if value and getattr(known, key) is None}
    if new:
        dated = {"flown_from": flown_from} if "flown_utc" in new else {}
        connection.execute(update(session).where(session.c.id == number).values(**new, **dated))
    return len(new)


def _longer(connection: Connection, known: Any, entry: NewDebrief) -> tuple[Kind, str]:
    add_debrief(connection, known.id, entry)
    connection.execute(update(session).where(session.c.id == known.id).values(log_name=entry.log_name))
    return (
        "longer",
        f"a longer recording of {known.log_name}: it counts now, and the session keeps its grades",
    )


def _again(connection: Connection, known: Any, entry: NewDebrief) -> tuple[Kind, str]:
    kept = connection.execute(
        select(debrief).where(debrief.c.session_id == known.id).order_by(debrief.c.rank)
    ).all()
    versions = (entry.program_version, entry.rules_version)
    last = kept[-1]
    counting = json.loads(last.document)
    other_file = counting["log"]["sha256"] != entry.log_sha256
    told = f"the flight of {known.log_name}, which is in the logbook already; nothing was added"
    if other_file and (lasts_s(entry.document) or 0.0) < (lasts_s(counting) or 0.0) - SAME_LENGTH_S:
        return "already there", told
    same = [
        one
        for one in kept
        if one.document_sha256 == fingerprint(entry.document)
        and (one.program_version, one.rules_version) == versions
    ]
    if same:
        if same[-1].rank != last.rank:
            # The person went back to an earlier way of judging: that one counts again.
            moved = update(debrief).where(debrief.c.id == same[-1].id).values(rank=last.rank + 1)
            connection.execute(moved)
        return "already there", "in the logbook already; nothing was added"
    as_judged = (last.program_version, last.rules_version) == versions
    if other_file and as_judged and _settings(counting) == _settings(entry.document):
        return "already there", told
    add_debrief(connection, known.id, entry)
    return "re-debriefed", _what_changed(last, entry)


def _settings(document: Mapping[str, Any]) -> list[Any]:
    """Return what tells two ways of judging one flight apart, whatever file it was read from."""
    keys = ("definition", "name", "rules", "turns", "leg")
    return [document.get("standard"), *([hold.get(key) for key in keys] for hold in document["holds"])]


def _what_changed(last: Any, entry: NewDebrief) -> str:
    why = []
    if last.rules_version != entry.rules_version:
        why.append(f"other rules ({entry.rules_version}, before {last.rules_version})")
    if last.program_version != entry.program_version:
        why.append(f"another program version ({entry.program_version}, before {last.program_version})")
    cause = " and ".join(why) or "other settings"
    return f"debriefed again with {cause}: this result counts now, the earlier one is kept beside it"


def add_debrief(connection: Connection, number: int, entry: NewDebrief) -> None:
    """Put a debrief and its figures on top of those that a session has."""
    highest = select(func.coalesce(func.max(debrief.c.rank), 0)).where(debrief.c.session_id == number)
    trace = None if entry.trace is None else json.dumps(entry.trace.as_json(), separators=(",", ":"))
    values = {
        "session_id": number,
        "rank": connection.execute(highest).scalar_one() + 1,
        "document_sha256": fingerprint(entry.document),
        "program_version": entry.program_version,
        "rules_version": entry.rules_version,
        "recorded_utc": iso_utc(entry.recorded),
        "document": canonical(entry.document),
        "trace": trace,
    }
    debrief_id = inserted(connection, debrief, values)
    for one in logged_holds(entry.document):
        hold_id = inserted(connection, hold, {"debrief_id": debrief_id, **one.columns()})
        measures = [
            {"hold_id": hold_id, "circuit": circuit, "item": item}
            | {name: getattr(score, name) for name in ("points", "value", "target", "tolerance", "verdict")}
            for circuit, item, score in one.measures()
        ]
        if measures:
            connection.execute(insert(measure), measures)


def person_id(connection: Connection, name: str) -> int:
    """Return the id of a person by the cleaned name, and enter the person where nobody of that name is there."""
    key = name_key(name)
    found = connection.execute(select(person.c.id).where(person.c.name_key == key)).scalar_one_or_none()
    return inserted(connection, person, {"name_key": key, "name": name}) if found is None else int(found)


def inserted(connection: Connection, table: Any, values: Mapping[str, Any]) -> int:
    """Insert one row and return its id."""
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    if key is None:
        raise LogbookError("the database gave a new row no number")
    return int(key[0])


@lru_cache(maxsize=1)
def rules_version() -> str:
    """Return a fingerprint of the rules: it changes with any number in any of their files.

    A version number would have to be raised by hand, and would be forgotten. The grade scales are left
    out: they come after the debrief and do not change it. Twelve hexadecimal digits.
    """
    folder = Path(analyser.__file__).parent
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*.toml"), key=lambda one: one.relative_to(folder).as_posix()):
        name = path.relative_to(folder).as_posix()
        if name.startswith(("rules/", "grading/")) and "/scales/" not in name:
            digest.update(name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:12]


#: Points to (key, place) of the proposed level.
Propose = Callable[[float | None], tuple[str, int] | None]
#: What makes two grades of one person the same one.
_TOLD = ("hold", "item", "given_as", "scale", "level", "required", "remark", "graded_utc")


def add_grades(
    connection: Connection,
    session_id: int,
    session: Session,
    given: Sequence[Given],
    *,
    propose: Propose,
    graded: datetime,
    recorded: datetime,
) -> int:
    """Add grades to a session; return how many were new, for the same sheet a second time adds nothing.

    Raises LogbookError or UsageError: a hold, item or person that this session does not have.
    """
    added = 0
    for one in given:
        points = _computed(session, one)
        proposed = propose(proposable(one.item, points, session.holds[one.hold - 1].grade))
        values = {
            "session_id": session_id,
            "hold": one.hold,
            "item": one.item,
            "given_as": one.given_as,
            "scale": storable(one.scale, longest=200),
            "level": storable(one.level, longest=60),
            "place": one.place,
            "required": None if one.required is None else storable(one.required, longest=60),
            "computed_points": points,
            "proposed": proposed[0] if proposed else None,
            "proposed_place": proposed[1] if proposed else None,
            "remark": storable(one.remark, longest=4000),
            "graded_utc": iso_utc(graded),
            "grader_id": person_id(connection, _grader(session, one)),
            "recorded_utc": iso_utc(recorded),
        }
        added += insert_grade(connection, session.key, values)
    return added


def insert_grade(connection: Connection, key: str, values: dict[str, Any]) -> int:
    """Insert a grade of a session behind all others, unless the very same is there; return how many were inserted.

    ``values`` are the columns of ``grade`` without its id and order of arrival.
    """
    # "IS NOT DISTINCT FROM" in both databases' words: a grade asked for may be missing.
    alike = [grade.c[name].is_not_distinct_from(values[name]) for name in ("session_id", *_TOLD)]
    there = connection.execute(select(grade.c.grader_id).where(*alike)).scalars().all()
    # A grade whose giver has been erased is known again without the name.
    if any(who is None or who == values["grader_id"] for who in there):
        return 0
    arrival = connection.execute(select(func.coalesce(func.max(grade.c.arrival), 0))).scalar_one() + 1
    # The grader's name stays out of it, so that nothing of the name is left when the person is erased.
    text = json.dumps([key, *(values[name] for name in _TOLD), *([len(there)] if there else [])])
    number = hashlib.sha256(text.encode("ascii")).hexdigest()
    connection.execute(insert(grade).values(id=number, arrival=arrival, **values))
    return 1


def _computed(session: Session, one: Given) -> float | None:
    if not 1 <= one.hold <= len(session.holds):
        what = f"session {session.reference} has {counted(len(session.holds), 'hold')}, none is number {one.hold}"
        raise UsageError(what, mend="give the number of a hold that it has")
    points = item_points(session.holds[one.hold - 1])
    if one.item not in points:
        known = ", ".join(points)
        raise UsageError(f"hold {one.hold} has no item '{one.item:.40}'", mend=f"use one of: {known}")
    return points[one.item]


def _grader(session: Session, one: Given) -> str:
    if one.given_as == "pilot":
        if one.grader and name_key(one.grader) != name_key(session.pilot):
            raise LogbookError(
                f"the sheet is {one.grader}'s, but this log was flown by {session.pilot}",
                file=session.log_name,
                mend=f"if that is wrong: analyser logbook move {session.reference} --pilot NAME",
            )
        return session.pilot
    if not one.grader and not session.instructor:
        mend = "write the name on the sheet, or say --by NAME"
        raise UsageError("the instructor's grades have no instructor", mend=mend)
    return one.grader or str(session.instructor)
