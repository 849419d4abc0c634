"""Leaving on time: the score, and from where in the pattern which turn-in would have met the second."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analyser.frozen import dataclass
from analyser.pages.figures.leaving import LeavingPlot, leaving
from analyser.pages.pictures import Picture, picture
from analyser.pages.score_rows import Judged, judged
from analyser.pages.words import clock, number

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenHold, WrittenLeaving


@dataclass(frozen=True)
class LeavingView:
    """Leaving, ready for the page.

    Attributes
    ----------
    finding : str
    score : Judged
    doc : WrittenLeaving
    picture : Picture
    """

    finding: str
    score: Judged
    doc: WrittenLeaving
    picture: Picture


def leaving_view(document: WrittenHold, ids: str) -> LeavingView | None:
    """Gather what the page says of leaving on time.

    Parameters
    ----------
    document : WrittenHold
    ids : str
        How the ids of this hold's drawings begin.

    Returns
    -------
    LeavingView or None
        None where no time to leave was given.
    """
    found = document.leaving
    if found is None:
        return None
    finding = _finding(found.leave_at_s, found.left_s, document.start_s)
    plot = LeavingPlot(
        [row.turn_in_after_s for row in found.turn_in],
        [row.back_after_s for row in found.turn_in],
        found.plans[-1].to_go_s if found.plans else None,
        _flown(document),
    )
    return LeavingView(
        finding,
        judged("leaving", found.score),
        found,
        picture(leaving(plot), "Turn in then, be back then", finding, "leaving", f"{ids}-leaving"),
    )


def _finding(leave_at_s: float, left_s: float | None, start_s: float) -> str:
    wanted = f"Wanted over the fix at {clock(leave_at_s - start_s)}"
    if left_s is None:
        return f"{wanted}; it was not passed again."
    late = left_s - leave_at_s
    words = "on the second" if abs(late) < 0.5 else f"{number(abs(late))} s {'late' if late > 0 else 'early'}"
    return f"{wanted}, left at {clock(left_s - start_s)}: {words}."


def _flown(document: WrittenHold) -> tuple[float, float] | None:
    """When the last circuit turned in and came back, after leaving the fix."""
    for circuit in reversed(document.circuits):
        if circuit.inbound_turn and circuit.complete:
            start = circuit.start_s
            return circuit.inbound_turn.start_s - start, circuit.end_s - start
    return None
