"""The entry's technique in figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

from analyser.frozen import dataclass
from analyser.pages.marks import missing, quantity
from analyser.pages.score_rows import Judged, judged

if TYPE_CHECKING:
    from analyser.schema.debrief_file import WrittenArrival, WrittenEntry


@dataclass(frozen=True)
class EntryView:
    """The entry, ready for the page.

    Attributes
    ----------
    judged : list of Judged
        Angle and time of a parallel or offset entry.
    facts : list of (words, value, outside)
    """

    judged: list[Judged]
    facts: list[tuple[str, Markup, bool]]


def entry_view(entry: WrittenEntry | None) -> EntryView | None:
    """Gather what the page says of the entry.

    Returns
    -------
    EntryView or None
        None where the log begins inside the hold.
    """
    if entry is None:
        return None
    scores = [("angle", entry.angle), ("time", entry.time)]
    return EntryView(
        [judged(key, score) for key, score in scores if score is not None],
        [*_facts(entry), *_arrival(entry.arrival)],
    )


def _facts(entry: WrittenEntry) -> list[tuple[str, Markup, bool]]:
    facts = []
    if entry.off_side_nm is not None:
        words = "Farthest onto the non-holding side"
        facts.append((words, quantity(entry.off_side_nm, "NM", 2), False))
    if entry.turn_back is not None:
        side = "right" if entry.turn_back > 0 else "left"
        value = Markup("{} {}").format(quantity(abs(entry.turn_back), "°"), side)
        facts.append(("Turn back", value, entry.turn_back_right_way is False))
    meeting = entry.interception
    if meeting:
        facts.append(
            ("Rolled out off the course by", quantity(abs(meeting.rollout_cross_track_nm), "NM", 2), False)
        )
        facts.append(("Angle to the course there", quantity(abs(meeting.angle), "°"), False))
        met = meeting.met_at_nm
        never = missing("not before the fix")
        facts.append(
            ("Course met before the fix at", never if met is None else quantity(met, "NM", 1), False)
        )
    return facts


def _arrival(arrival: WrittenArrival) -> list[tuple[str, Markup, bool]]:
    at, before, slowed = arrival.speed_at_fix_kias, arrival.speed_before_kias, arrival.slowed_before_fix_s
    facts = []
    if at is not None:
        value = Markup("{} KIAS, limit {}").format(quantity(at, ""), quantity(arrival.limit_kias, ""))
        facts.append(("Speed over the fix", value, arrival.verdict == "outside"))
    if before is not None:
        facts.append(("Speed three minutes before", quantity(before, "KIAS"), False))
    if slowed is not None:
        value = missing("not before the fix") if slowed == 0 else quantity(slowed, "s before the fix")
        facts.append(("At holding speed", value, False))
    asked = arrival.slow_down
    if asked is not None and asked.value is not None:
        value = quantity(asked.value, "s before the fix")
        facts.append(
            (
                f"At or below the maximum speed (asked: {asked.target:.0f} s)",
                value,
                asked.verdict == "outside",
            )
        )
    return facts
