"""Instrument recency as far as holds go.

14 CFR 61.57(c)(1) asks, within the six calendar months before the month of the flight, for six approaches,
holding procedures and tasks, and intercepting and tracking courses [quoted]. Only the holding part can be
seen in a logbook of holds; logging is the pilot's own duty, and other rules apply elsewhere.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from analyser.logbook.sessions import Session

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
    flown = [one for one in sessions if _held(one)]
    days = [one.flown.date() for one in flown if one.flown is not None and one.flown.date() <= on]
    this_month = on.replace(day=1)
    first, after = _months_later(this_month, -MONTHS), this_month
    latest = max(days, default=None)
    return Recency(
        first_day=first,
        last_day=date.fromordinal(after.toordinal() - 1),
        on=on,
        counted=sum(first <= day < after for day in days),
        latest=latest,
        through=None if latest is None else _last_of_month(_months_later(latest.replace(day=1), MONTHS)),
        undated=sum(one.flown is None for one in flown),
    )


def _held(session: Session) -> bool:
    """Tell whether a session holds one whole circuit at least."""
    return any(circuit.get("complete") for hold in session.holds for circuit in hold["circuits"])


def _months_later(first_of_month: date, months: int) -> date:
    index = first_of_month.year * 12 + first_of_month.month - 1 + months
    return date(index // 12, index % 12 + 1, 1)


def _last_of_month(day: date) -> date:
    return day.replace(day=monthrange(day.year, day.month)[1])
