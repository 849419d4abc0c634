"""The class at a glance: who is ready, who is stuck and on what, with a link to each pilot's pages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from analyser.frozen import dataclass
from analyser.logbook.classes import LEAST_SESSIONS, STATES, Readiness
from analyser.logbook.marks import title_of
from analyser.logbook.progress import Progress
from analyser.pages.progress_charts import trend_words
from analyser.pages.progress_page import paper
from analyser.pages.words import number, points_words


@dataclass(frozen=True)
class Member:
    """One pilot of the class, with the names of the pages beside the index."""

    progress: Progress
    readiness: Readiness
    page: str
    record: str


def class_page(members: Sequence[Member], *, on: date) -> str:
    """Write the class's index: a complete HTML document without a script."""
    ordered = sorted(
        members, key=lambda one: (STATES.index(one.readiness.state), one.progress.pilot.casefold())
    )
    asked = members[0].progress.asked_points if members else 0.0
    return paper(
        "class.html",
        rows=[_row(one) for one in ordered],
        counts=[(state, sum(one.readiness.state == state for one in members)) for state in STATES],
        asked=number(asked),
        least=LEAST_SESSIONS,
        on=on,
    )


def _row(one: Member) -> dict[str, Any]:
    found = one.progress
    overall = found.overall
    exercise = found.exercise
    return {
        "pilot": found.pilot,
        "page": one.page,
        "record": one.record,
        "state": one.readiness.state,
        "why": why_words(found, one.readiness),
        "overall": number(overall.now.points) if overall else None,
        "change": trend_words(overall) if overall else "",
        "open": ", ".join(title_of(item.item).lower() for item in one.readiness.open),
        "sessions": len(found.sessions),
        "last": _last_flown(found),
        "next": exercise.plan.title if exercise else "",
    }


def _last_flown(found: Progress) -> str:
    dated = [one.flown for one in found.sessions if one.flown]
    return f"{max(dated):%Y-%m-%d}" if dated else "no dates" if found.sessions else ""


def why_words(progress: Progress, found: Readiness) -> str:
    """Say why a pilot stands where the index puts the pilot."""
    said = []
    if found.unsafe:
        said.append(f"unsafe in {found.unsafe} of the latest sessions")
    for one in found.below[:3]:
        if one.count is not None:
            said.append(
                f"{one.item.title.lower()} {one.count.lately_right} of the last {one.count.lately_of} right"
            )
        else:
            first = f", at first {number(one.first_points)}" if len(one.marks) >= 2 * one.now.sessions else ""
            now = points_words(one.now.points, progress.asked_points)
            worse = ", getting worse" if one.trend and one.trend.verdict == "worse" else ""
            said.append(f"{one.item.title.lower()} {now}{first}{worse}")
    falling = [one for one in progress.items if one.trend and one.trend.verdict == "worse"]
    others = [one.item.title.lower() for one in falling if one not in found.below]
    if others:
        said.append("getting worse: " + ", ".join(others))
    if len(found.below) > 3:
        said.append(f"{len(found.below) - 3} more items below")
    if not said and found.open:
        said.append(
            "graded below the standard: " + ", ".join(title_of(one.item).lower() for one in found.open)
        )
    if not said:
        return "" if progress.items else "nothing judged yet"
    return "; ".join(said)
