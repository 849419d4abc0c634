"""One log's whole way from file to page: the unit of work that is repeated, spread over cores, or watched for."""

from __future__ import annotations

import json
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.errors import AnalyserError
from analyser.work.earlier import program_block
from analyser.work.job import Job, read_job_holds
from analyser.work.names import Names, flight_stem
from analyser.work.notes import told_fits

if TYPE_CHECKING:
    from analyser.logbook.sessions import Trace
    from analyser.logs.track import Track


@dataclass(frozen=True)
class Report:
    """One debrief as written.

    Attributes
    ----------
    page, data : Path
        HTML and JSON.
    document : dict
        The JSON's content, but for the block that tells of its making.
    flight : int
        Which flight of the log, from 1.
    trace : sequence or None
        The flown path of each hold, thinned, as a logbook keeps it; None where it was not kept.
    """

    page: Path
    data: Path
    document: dict[str, Any]
    flight: int
    trace: Trace | None


@dataclass(frozen=True)
class Outcome:
    """What came of one log.

    Attributes
    ----------
    log : Path
    reports : tuple of Report
        One per flight in the log, in order of time.
    faults : tuple of str
        Messages for the person; empty where all went well.
    """

    log: Path
    reports: tuple[Report, ...] = ()
    faults: tuple[str, ...] = ()


def debrief_file(log: Path, job: Job, *, stem: str | None = None) -> Outcome:
    """Debrief one log: read, judge, write page and JSON.

    Parameters
    ----------
    log : Path
    job : Job
    stem : str, optional
        Name of page and JSON; by default the log's own where that is free.

    Returns
    -------
    Outcome
        Whatever goes wrong with a log or its reports is a fault in it, never an exception.
    """
    from analyser.logs.read import ReadOptions, read_log

    try:
        tracks = read_log(log, ReadOptions(columns=job.columns, units=job.units))
        name = stem if stem is not None else Names(job.out).claim(log).stem
    except Exception as error:
        # One log must not end a run of a thousand.
        return Outcome(log, faults=(said(error, log),))
    stems = [flight_stem(job.out, name, place, tracks[0].sha256) for place in range(1, len(tracks) + 1)]
    reports: list[Report] = []
    faults: list[str] = []
    # The first flight's file tells that the whole log is done, so it is written last.
    for flight in reversed(range(1, len(tracks) + 1)):
        program = program_block(None if faults else job.fingerprint(), stems if flight == 1 else [])
        try:
            reports.append(_debrief(log, tracks[flight - 1], job, stems[flight - 1], flight, program))
        except Exception as error:
            # Nor must one flight keep the others of its log from their pages.
            faults.append(said(error, log))
    return Outcome(log, tuple(reversed(reports)), tuple(reversed(faults)))


def _debrief(log: Path, track: Track, job: Job, stem: str, flight: int, program: dict[str, Any]) -> Report:
    from analyser.airspace.obstacle_file import obstacles_asked_for
    from analyser.debrief import debrief_track
    from analyser.document import document
    from analyser.logbook.trace import trace_of
    from analyser.pages.page import render_page
    from analyser.pages.write import write_text_whole
    from analyser.rules.scales import load_scales
    from analyser.rules.scoring import load_scoring

    given = read_job_holds(job, track)
    debrief = debrief_track(
        track,
        holds=given.holds,
        rules=job.rules,
        standard=job.standard,
        obstacles=obstacles_asked_for(job.obstacles, high_terrain=job.high_terrain),
        high_terrain=job.high_terrain,
        flight_director=job.flight_director,
        turbulence=job.turbulence,
        scoring=load_scoring(job.scoring),
    )
    content = document(debrief)
    content["definition_fit"] = told_fits(content["definition_fit"], given, job.holds)
    filled = job.session.filled(log) if job.session else {}
    rendered = render_page(debrief, content, scales=load_scales(job.scales), filled=filled)
    page, data = job.out / f"{stem}.html", job.out / f"{stem}.json"
    write_text_whole(page, _storable(rendered))
    # Last of all, for its being there means that the page is there too.
    write_text_whole(data, _storable(_as_text(_with_program(content, program))))
    return Report(page, data, content, flight, trace_of(debrief))


def _as_text(file: dict[str, Any]) -> str:
    """Write a line for each part and for each hold: the library's fast writer knows no other way to break lines."""

    def line(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    parts = {key: line(value) for key, value in file.items() if key != "holds"}
    parts["holds"] = "[" + ",".join(f"\n  {line(hold)}" for hold in file["holds"]) + "]"
    return "{" + ",".join(f"\n {line(key)}: {text}" for key, text in parts.items()) + "\n}\n"


def _storable(text: str) -> str:
    """Replace what stands for a byte of a file name that is no text: UTF-8 has no word for it."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _with_program(content: dict[str, Any], program: dict[str, Any]) -> dict[str, Any]:
    """Put the making of the file before the log, where it is found without reading the rest."""
    first = {key: content[key] for key in ("schema", "caution")}
    return {**first, "program": program, **content}


def said(error: Exception, log: Path) -> str:
    """Put an error into words for the person.

    Returns
    -------
    str
        The message of an error that a person can mend; for any other, what a developer needs to find it.
    """
    if isinstance(error, AnalyserError):
        return str(error)
    last = traceback.extract_tb(error.__traceback__)[-1:]
    where = f" at {Path(last[0].filename).name}:{last[0].lineno}" if last else ""
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    mend = "a fault of the program, not yours: please report it, with the log if you may"
    return f"{log}: this log could not be debriefed: {what}{where} ({mend})"
