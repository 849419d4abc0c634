"""What is asked of a pilot: the standard by instructors' grades, since when it is met, and recency as far as holds go.

14 CFR 61.57(c)(1) asks, within the six calendar months before the month of the flight, for six approaches,
holding procedures and tasks, and intercepting and tracking courses [quoted]. Only the holding part can be
seen in a logbook of holds; logging is the pilot's own duty, and other rules apply elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import lru_cache

import numpy as np

from analyser.errors import SettingsError
from analyser.frozen import dataclass
from analyser.logbook.marks import by_item, in_order
from analyser.logbook.sessions import Grade, Session
from analyser.rules.scales import Scale, load_scale


@dataclass(frozen=True)
class Graded:
    """One item of one hold as it was graded: by instructors, the grade that stands first, and the pilot's ``own``."""

    session: Session
    hold: int
    item: str
    given: tuple[Grade, ...]
    own: Grade | None

    @property
    def standing(self) -> Grade:
        """The instructor's grade that stands, of an item that one has graded."""
        return self.given[0]

    @property
    def differ(self) -> bool:
        """Whether another instructor gave another grade."""
        return any(one.level != self.standing.level for one in self.given[1:])


def graded(session: Session) -> list[Graded]:
    """Put together the grades that count in a session, by hold and item."""
    counting = session.counting_grades()
    return [
        Graded(
            session,
            hold,
            item,
            tuple(counting.get((hold, item, "instructor"), ())),
            next(iter(counting.get((hold, item, "pilot"), ())), None),
        )
        for hold, item in sorted({(hold, item) for hold, item, _ in counting})
    ]


@dataclass(frozen=True)
class ItemStandard:
    """One item, or ``"overall"``, against what was asked for.

    ``required`` is the level asked for when it was graded last, in words; of an item never graded, the scale's.
    ``graded`` is in the order flown; since ``met`` every instructor's grade has been at the level asked for, None where
    the last one was not.
    """

    item: str
    required: str
    graded: tuple[Graded, ...]
    met: datetime | None

    @property
    def open(self) -> bool:
        """Whether the standard is not met, or no instructor has graded the item."""
        return self.met is None


def standards(own: Sequence[Session], scale: Scale) -> tuple[ItemStandard, ...]:
    """Hold a pilot's grades against what was asked for, for every item that was judged or graded."""
    found: dict[str, list[Graded]] = {key: [] for key in by_item(own)}
    for session in sorted(own, key=lambda one: one.when):
        for one in graded(session):
            if one.given:
                found.setdefault(one.item, []).append(one)
    standing = []
    for key in in_order(found):
        met, required = None, scale.level(scale.required).title
        for one in found[key]:
            met = (met or one.session.when) if meets(one.standing, scale) else None
            asked = one.standing.required or scale.required
            required = title_of_level(asked, one.standing.scale, scale)
        standing.append(ItemStandard(key, required, tuple(found[key]), met))
    return tuple(standing)


def meets(grade: Grade, scale: Scale) -> bool:
    """Tell whether a grade is at the level that was asked for; on a scale that is not at hand: that very level."""
    known = scale_of(grade.scale, scale)
    required = grade.required or (known.required if known else None)
    if required is None or grade.level == required:
        return True
    return known is not None and grade.place >= known.place(required)


def title_of_level(key: str, scale_key: str, scale: Scale) -> str:
    """Say a level in its scale's words, or by its key where the scale is not at hand."""
    known = scale_of(scale_key, scale)
    try:
        return known.level(key).title if known else key
    except SettingsError:
        return key


def scale_of(key: str, scale: Scale) -> Scale | None:
    """Return the scale of a grade: the one in hand, or one that comes with the program."""
    return scale if scale.key == key else _shipped(key)


@lru_cache(maxsize=16)
def _shipped(key: str) -> Scale | None:
    try:
        return None if key.endswith(".toml") else load_scale(key)
    except SettingsError:
        return None


MONTHS = 6
RULE = "14 CFR 61.57(c)(1)"


@dataclass(frozen=True)
class Recency:
    """What the logbook shows of holding in the six calendar months before the month of ``on``.

    ``counted`` are the sessions with a hold in those months, ``latest`` the last one up to ``on``; ``through`` is the
    last day of flights for which that one still counts. ``undated`` sessions count for nothing here.
    """

    first_day: date
    last_day: date
    on: date
    counted: int
    latest: date | None
    through: date | None
    undated: int

    @property
    def met(self) -> bool:
        """Whether the holding part is met for a flight on that day."""
        return self.counted > 0


def recency(sessions: Iterable[Session], on: date) -> Recency:
    """Count one pilot's holds for recency on the day of a flight."""
    whole = [one for one in sessions if any(lap.complete for hold in one.holds for lap in hold.circuits)]
    days = [one.flown.date() for one in whole if one.flown is not None and one.flown.date() <= on]
    month = np.datetime64(on, "M")
    last_day, latest = _day_before(month), max(days, default=None)
    first_day = (month - MONTHS).astype("datetime64[D]").item()
    return Recency(
        first_day=first_day,
        last_day=last_day,
        on=on,
        counted=sum(first_day <= day <= last_day for day in days),
        latest=latest,
        through=None if latest is None else _day_before(np.datetime64(latest, "M") + MONTHS + 1),
        undated=sum(one.flown is None for one in whole),
    )


def _day_before(month: np.datetime64) -> date:
    """Return the day before the first of a month."""
    day: date = (month.astype("datetime64[D]") - 1).item()
    return day
