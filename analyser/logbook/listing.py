"""The logbook's sessions as lines of text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analyser.logbook.flatten import number_or_none
from analyser.logbook.sessions import Session


def listing(sessions: Sequence[Session]) -> Iterator[str]:
    """Write one line per session.

    Parameters
    ----------
    sessions : sequence of Session

    Yields
    ------
    str
        Without control characters, whatever the log's name holds.
    """
    if not sessions:
        yield "no sessions"
        return
    width = max(len(one.pilot) for one in sessions)
    for one in sessions:
        day = f"{one.when:%Y-%m-%d}" + (" " if one.flown else "?")
        holds = "; ".join(_hold(number, hold) for number, hold in enumerate(one.holds, 1)) or "no hold"
        extra = f"; graded {len(one.standing_grades())} items" if one.grades else ""
        again = f"; {len(one.earlier)} earlier debriefs kept" if one.earlier else ""
        line = f"{one.reference}  {day}  {one.pilot:<{width}}  {one.log_name}: {holds}{extra}{again}"
        yield "".join(sign if sign.isprintable() else "\ufffd" for sign in line)


def _hold(number: int, hold: object) -> str:
    assert isinstance(hold, dict)
    points = number_or_none(hold.get("points"))
    said = "not judged" if points is None else f"{points:.0f} points"
    return f"hold {number} {hold.get('name') or ''}".rstrip() + f", {len(hold['circuits'])} circuits, {said}"
