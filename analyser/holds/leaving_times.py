"""When to leave the fix, as it is typed: UTC, or so long after passing the fix.

One grammar for every command: ``18:32``, ``18:32:15`` and ``2026-03-14T18:32:00Z`` are UTC; ``+7:30`` is minutes and
seconds after passing the fix.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, time, timedelta

from analyser.errors import UsageError

_SPAN = re.compile(r"\+?(?P<minutes>\d{1,3}(\.\d+)?)(:(?P<seconds>[0-5]\d))?")
_WRITE_UTC = "write 18:32, 18:32:00 or 2026-03-14T18:32:00Z, in UTC"
_WRITE_SPAN = "write minutes and seconds after passing the fix, +7:30, or a UTC time together with --over-at"
_DAY_S = 86400.0


def leave_instant(text: str, start_utc: datetime | None, *, option: str = "--leave-at") -> datetime | None:
    """Read a UTC time of leaving for a flight that has been flown.

    Parameters
    ----------
    start_utc : datetime or None
        The flight's first sample: a time of day is the next one after it.
    option : str
        It was given to, for the message.

    Returns
    -------
    datetime or None
        Aware; None for a time of day where the log has no date.

    Raises
    ------
    UsageError
        It is no time.
    """
    said = _utc(text, option)
    if isinstance(said, datetime) or start_utc is None:
        return said if isinstance(said, datetime) else None
    leave = datetime.combine(start_utc.date(), said, tzinfo=UTC)
    return leave if leave >= start_utc else leave + timedelta(days=1)


def leave_after_s(text: str, over_at: str | None) -> float:
    """Read a time of leaving for a flight to come; return seconds after passing the fix.

    Parameters
    ----------
    text : str
        UTC where the time of passing is known; without it, and with a plus, minutes and seconds after passing.
    over_at : str or None
        UTC of passing the fix.

    Raises
    ------
    UsageError
        One of them is no time.
    """
    if over_at is None or text.startswith("+"):
        return _span_s(text)
    # A time of leaving before that of passing the fix belongs to the next day.
    return (_of_day_s(_utc(text, "--leave-at")) - over_s(over_at)) % _DAY_S


def over_s(over_at: str) -> float:
    """Return the UTC second of the day at which the fix is passed."""
    return _of_day_s(_utc(over_at, "--over-at"))


def _of_day_s(said: time | datetime) -> float:
    at = said.astimezone(UTC) if isinstance(said, datetime) else said
    return at.hour * 3600.0 + at.minute * 60.0 + at.second


def _utc(text: str, option: str) -> time | datetime:
    try:
        if "T" in text or " " in text:
            given = datetime.fromisoformat(text)
            return given if given.tzinfo else given.replace(tzinfo=UTC)
        return time.fromisoformat(text.removesuffix("Z"))
    except ValueError:
        raise UsageError(f"'{text}' is no time", place=option, mend=_WRITE_UTC) from None


def _span_s(text: str) -> float:
    found = _SPAN.fullmatch(text)
    if found is None or ("." in found["minutes"] and found["seconds"]):
        raise UsageError(f"'{text}' is no time of leaving", place="--leave-at", mend=_WRITE_SPAN)
    return 60.0 * float(found["minutes"]) + float(found["seconds"] or 0.0)
