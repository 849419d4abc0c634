"""A student's record: what was flown, who graded what and when, what is met and what is open; to read and to print."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analyser.logbook.documents import LoggedHold
from analyser.logbook.marks import unsafe_findings
from analyser.logbook.names import counted
from analyser.logbook.progress import Progress
from analyser.logbook.sessions import Session, TrailEntry
from analyser.pages.grades_view import (
    grades_by_session,
    remark_rows,
    standard_rows,
    withdrawn_rows,
)
from analyser.pages.progress_page import days_words, paper, recency_view, session_row, unsafe_rows
from analyser.pages.words import number


def record_page(
    progress: Progress, sessions: Sequence[Session], trail: Sequence[TrailEntry], *, progress_file: str = ""
) -> str:
    """Write a student's record: a complete HTML document without a script.

    ``sessions`` are the pilot's own, also those without a hold, and ``trail`` is theirs; ``progress_file`` names
    the progress page beside it, and is empty where that is not written.
    """
    standards = [one for one in progress.standards if one.graded or one.item != "overall"]
    rows = standard_rows(standards, progress.scale)
    return paper(
        "record.html",
        progress=progress,
        standards=rows,
        open_items=[row for row in rows if row["met"] is None],
        unsafe=unsafe_rows(progress),
        grades=grades_by_session(sessions, progress.scale),
        remarks=remark_rows(sessions, progress.scale),
        withdrawn=withdrawn_rows(sessions, progress.scale),
        recency=recency_view(progress),
        exercise=progress.exercise,
        instructors=_names(one.instructor for one in sessions),
        devices=_names(one.device for one in sessions),
        count=len(sessions),
        days=days_words(sessions),
        sessions=[_session(one) for one in reversed(sessions)],
        trail=trail,
        progress_file=progress_file,
    )


def _names(found: Any) -> str:
    return ", ".join(sorted({one for one in found if one}, key=str.casefold))


def _session(one: Session) -> dict[str, Any]:
    holds = [_hold(hold) for hold in one.holds]
    alarming = unsafe_findings(one)
    return {**session_row(one), "holds": holds or ["no hold"], "unsafe": alarming}


def _hold(hold: LoggedHold) -> str:
    said = [
        counted(len(hold.circuits), "circuit"),
        "not judged" if hold.points is None else f"{number(hold.points)} points",
    ]
    if hold.entry_verdict in ("correct", "incorrect"):
        said.append(f"{hold.entry_flown} entry {'right' if hold.entry_verdict == 'correct' else 'wrong'}")
    return f"{hold.name or f'Hold {hold.number}'}: " + ", ".join(said)
