"""One flight is one session, whatever file it comes in: told by time and position."""

from __future__ import annotations

import copy
import gzip
import math
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analyser.errors import LogbookError
from analyser.exports.track_formats import Segment, write_csv
from analyser.logbook.book import Logbook
from analyser.logbook.sessions import Trace
from analyser.logbook.trace import relation, trace_of
from analyser.logs.read import read_log
from tests.logbook_documents import document
from tests.logbook_places import a_place  # noqa: F401
from tests.test_logbook_book import SCALE, one_grade

START = datetime(2026, 3, 14, 17, 5, tzinfo=UTC)


def flight(
    length_s: float = 900.0,
    *,
    begins_s: float = 0.0,
    step_s: float = 10.0,
    east_nm: float = 0.0,
    slow: float = 1.0,
) -> Trace:
    """Laps round a point, sampled from ``begins_s`` on; times count from the log's own first sample."""
    times = np.arange(begins_s, begins_s + length_s + 0.1, step_s)
    turned = np.radians(1.5 * slow * times)
    lat = 47.0 + 1.2 / 60.0 * np.sin(turned)
    lon = 179.999 + (1.2 * np.cos(turned) + east_nm) / 60.0 / math.cos(math.radians(47.0))
    lon = (lon + 180.0) % 360.0 - 180.0
    return Trace([], [[t - begins_s, x, y] for t, x, y in zip(times, lat, lon, strict=True)])


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def test_the_same_time_and_places_are_the_same_flight_also_over_the_date_line() -> None:
    assert relation(flight(step_s=7.0), at(0), flight(), at(0)) == "same"
    assert relation(flight(begins_s=3.0), at(3), flight(), at(0)) == "same"
    assert relation(flight(), None, flight(), None) == "same"


def test_a_recording_that_was_written_on_is_the_longer_one() -> None:
    assert relation(flight(1500.0), at(0), flight(300.0), at(0)) == "longer"
    assert relation(flight(300.0), at(0), flight(1500.0), at(0)) == "shorter"
    # Switched off within five seconds of each other two recorders saw the same.
    for more_s, said in ((4.5, "same"), (5.5, "longer"), (-4.5, "same"), (-5.5, "shorter")):
        other = flight(900.0 + more_s, step_s=0.5)
        assert relation(other, at(0), flight(900.0, step_s=0.5), at(0)) == said


@pytest.mark.parametrize(
    ("new", "start"),
    [
        (flight(east_nm=0.2), at(0)),
        (flight(slow=1.1), at(0)),
        (flight(), at(30)),
        (flight(begins_s=700.0), at(700)),
        (flight(), None),
        (flight(), at(86400)),
        (flight(50.0), at(0)),
        (Trace([], [[float(t), 47.0, 179.999] for t in range(0, 900, 10)]), at(0)),
        (Trace(), at(0)),
    ],
    ids=["beside", "slower", "behind", "overlapping", "undated", "next day", "short", "standing", "no path"],
)
def test_another_flight_is_not_the_same(new: Trace, start: datetime | None) -> None:
    assert relation(new, start, flight(), at(0)) is None


def test_two_aircraft_that_stand_beside_each_other_are_not_one_flight() -> None:
    parked = Trace([], [[float(t), 47.0, 8.0] for t in range(0, 900, 10)])
    assert relation(parked, at(0), parked, at(0)) is None


def debriefed(mark: str, length_s: float, **changes: Any) -> dict[str, Any]:
    made = copy.deepcopy(document(mark, name=f"{mark}.gpx"))
    made["log"] |= {"duration_s": length_s, **changes}
    return made


def test_a_longer_recording_replaces_the_one_it_begins_with_and_keeps_its_grades(place: str) -> None:
    short, long = debriefed("part", 300.0), debriefed("whole", 900.0)
    long["holds"][0]["points"] = 55.0
    with Logbook.open(place) as book:
        key = book.record(short, pilot="Ada Vane", instructor="Ilja Moor", trace=flight(300.0)).session
        book.grade(key, [one_grade("bank", "4")], scale=SCALE)
        outcome = book.record(long, pilot="Ada Vane", trace=flight(900.0))
        assert (outcome.kind, outcome.session) == ("longer", key) and "keeps its grades" in outcome.message
        (one,) = book.sessions()
        assert one.debrief.document == long and [each.document for each in one.earlier] == [short]
        assert one.log_name == "whole.gpx" and len(one.grades) == 1
        # The shorter one again, the longer one again: nothing changes; either file finds the session.
        for made, trace in ((short, flight(300.0)), (long, None), (short, None)):
            assert book.record(made, pilot="Ada Vane", trace=trace).kind == "already there"
        assert book.sessions() == [one]
        assert book.flights(long["log"]["sha256"]) == book.flights(short["log"]["sha256"]) == [one]
        assert book.session(long["log"]["sha256"][:8]) == one


def test_the_same_flight_in_another_file_is_the_same_session(place: str) -> None:
    one, other = debriefed("gpx", 900.0), debriefed("table", 900.0)
    other["holds"][0]["points"] += 0.4
    with Logbook.open(place) as book:
        book.record(one, pilot="Ada Vane", trace=flight())
        for _ in range(2):
            assert book.record(other, pilot="Ada Vane", trace=flight(step_s=7.0)).kind == "already there"
            assert book.record(one, pilot="Ada Vane", trace=flight()).kind == "already there"
        assert len(book.sessions()) == 1 and book.sessions()[0].earlier == ()
        # Judged by other rules it counts, whichever file it was read from.
        assert book.record(other, pilot="Ada Vane", rules="newer").kind == "re-debriefed"
        with pytest.raises(LogbookError, match="as flown by Ada Vane"):
            book.record(debriefed("third", 900.0), pilot="Bo Lund", trace=flight())


def test_another_flight_of_the_same_hour_is_a_session_of_its_own(place: str) -> None:
    with Logbook.open(place) as book:
        for mark, east_nm in (("a", 0.0), ("b", 0.3), ("c", 5.0)):
            kind = book.record(debriefed(mark, 900.0), pilot=mark, trace=flight(east_nm=east_nm)).kind
            assert kind == "new"


def test_a_log_its_packed_copy_its_export_and_its_first_part_are_one_flight(tmp_path: Path) -> None:
    """The paths are taken from files that the program reads and writes itself."""
    source = Path(__file__).parent.parent / "sample_logs" / "first_lesson.gpx"
    packed, table, part = tmp_path / "a.gpx.gz", tmp_path / "a.csv", tmp_path / "part.csv"
    packed.write_bytes(gzip.compress(source.read_bytes()))
    whole = read_log(source)[0]
    table.write_text(write_csv(whole, [Segment(0, whole.samples, "")]), encoding="utf-8")
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    part.write_text("".join(lines[: len(lines) // 3]), encoding="utf-8")

    def path(file: Path) -> tuple[Trace, datetime | None]:
        track = read_log(file)[0]
        return trace_of(_Debrief(track)), track.start_utc

    kept = path(source)
    assert relation(*path(packed), *kept) == "same"
    assert relation(*path(table), *kept) == "same"
    assert relation(*path(part), *kept) == "shorter" and relation(*kept, *path(part)) == "longer"


class _Debrief:
    holds = ()

    def __init__(self, track: Any) -> None:
        self.track = track
