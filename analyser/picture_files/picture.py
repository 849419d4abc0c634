"""A picture to take away: from a log, a debrief file or the logbook to a file."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from analyser.errors import LogError, ReportError, UsageError
from analyser.picture_files import draw
from analyser.schema import is_debrief
from analyser.schema.debrief_file import WrittenDebrief
from analyser.whole_files import head_of
from analyser.work.job import Job

#: Pictures of a hold; of a pilot there is one.
OF_A_HOLD = ("plan", "wind", "strips", "budget")
OF_A_PILOT = "progress"


def picture_of(
    source: str,
    kind: str,
    ending: str,
    job: Job,
    *,
    number: int = 1,
    circuit: int | None = None,
    logbook: str | None = None,
) -> bytes:
    """Draw a picture of a log, of a debrief file, or of a pilot by name; as ``"png"``, ``"svg"`` or ``"pdf"``.

    ``kind`` is one of :data:`OF_A_HOLD`, or :data:`OF_A_PILOT`; ``job`` says how a log is to be debriefed; ``number``
    is that of the hold, from 1; ``circuit`` is for a picture of one; the pilot's sessions are in the ``logbook``.
    Raises AnalyserError if the source cannot be read, or has nothing of the kind.
    """
    _refuse_unknown(kind, ending)
    if kind == OF_A_PILOT:
        return _of_a_pilot(source, ending, logbook)
    document = _document(Path(source), job)
    holds = document.holds
    if not holds:
        raise ReportError(f"no hold was found: {document.nearest_miss}", file=source)
    if not 1 <= number <= len(holds):
        mend = (
            f"choose one of 1 to {len(holds)} with --number" if len(holds) > 1 else "the flight has one hold"
        )
        raise UsageError(f"there is no hold {number}", file=source, mend=mend)
    figure, hold = getattr(draw, kind), holds[number - 1]
    return draw.written(lambda: figure(document.log.name, hold, circuit), ending)


def _refuse_unknown(kind: str, ending: str) -> None:
    """Raise a UsageError for what is no picture, or no file for one."""
    if kind not in (*OF_A_HOLD, OF_A_PILOT):
        mend = f"choose {', '.join(OF_A_HOLD)} or {OF_A_PILOT}"
        raise UsageError(f"'{kind}' is no kind of picture", place="--as", mend=mend)
    if ending not in draw.ENDINGS:
        what = f"'.{ending}' is no kind of picture file" if ending else "the file has no ending"
        raise UsageError(what, place="--to", mend="write .png, .svg or .pdf")


def _of_a_pilot(pilot: str, ending: str, logbook: str | None) -> bytes:
    from analyser.logbook.book import Logbook
    from analyser.logbook.progress import progress_of
    from analyser.rules.scales import load_scale

    with Logbook.open(logbook, create=False) as book:
        (name,) = book.known_pilots([pilot])
        sessions = book.sessions()
    found = progress_of(name, sessions, scale=load_scale("evidence-1-5"), on=date.today())
    return draw.written(lambda: draw.progress(found), ending)


def _document(source: Path, job: Job) -> WrittenDebrief:
    """Read a debrief file, or debrief a log."""
    # Of one that cannot be opened, reading it as a log says why.
    if is_debrief(head_of(source)):
        try:
            return WrittenDebrief.from_json(json.loads(source.read_text(encoding="utf-8")))
        except ValueError as error:
            mend = "debrief the log again"
            raise LogError(f"the debrief file is damaged: {error}", file=str(source), mend=mend) from error
    from analyser.document import written_debrief
    from analyser.logs.read import read_log

    track = read_log(source, job.reading)[0]
    return written_debrief(job.debriefed(track, job.holds_for(track).holds))
