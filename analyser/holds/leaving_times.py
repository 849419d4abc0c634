"""When to leave the fix, as it is typed: UTC, or so long after passing the fix.

One grammar for every command: ``18:32``, ``18:32:15`` and ``2026-03-14T18:32:00Z`` are UTC; ``+7:30`` is minutes and
seconds after passing the fix. Before a flight, where nobody says when the fix is passed, a time without a plus is read
as if it had one; where it could be a time of day, it is said which of both it was taken for.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, time, timedelta

from analyser.errors import UsageError

_SPAN = re.compile(r"\+?(?P<minutes>\d{1,3}(\.\d+)?)(:(?P<seconds>[0-5]\d))?")
_WRITE_UTC = "write 18:32, 18:32:00 or 2026-03-14T18:32:00Z, in UTC"
_WRITE_EITHER = f"{_WRITE_UTC}, or +7:30, minutes and seconds after passing the fix"
_WRITE_SPAN = "write minutes and seconds after passing the fix, +7:30, or a UTC time together with --over-at"
_DAY_S = 86400.0


def leave_instant(text: str, start_utc: datetime | None) -> datetime | None:
    """Read a UTC time of leaving for a flight that has been flown.

    A time of day is the next one after the flight's first sample; None where the log has no date.

    Raises UsageError: it is no time.
    """
    said = _utc(text, "--leave-at")
    if isinstance(said, datetime) or start_utc is None:
        return said if isinstance(said, datetime) else None
    leave = datetime.combine(start_utc.date(), said, tzinfo=UTC)
    return leave if leave >= start_utc else leave + timedelta(days=1)


def leave_after_s(text: str, over_at: str | None) -> float:
    """Read a time of leaving for a flight to come; return seconds after passing the fix.

    UTC where the time of passing is known; without it, and with a plus, minutes and seconds after passing.

    Raises UsageError: one of them is no time.
    """
    if over_at is None or text.startswith("+"):
        return _span_s(text)
    # A time of leaving before that of passing the fix belongs to the next day.
    return (_of_day_s(_utc(text, "--leave-at", _WRITE_EITHER)) - over_s(over_at)) % _DAY_S


def which_reading(text: str, over_at: str | None) -> str:
    """Say how :func:`leave_after_s` takes what may be a time of day or a span, and how to say the other.

    Empty for what people read in one way only, such as ``+7:30``, or 9 as minutes.
    """
    if text.startswith("+") or (over_at is None and ":" not in text):
        return ""
    try:
        span_s, clock = round(_span_s(text)), _utc(text.rjust(5, "0") if ":" in text else text, "--leave-at")
    except UsageError:
        return ""
    after = f"{span_s // 60} min {span_s % 60:02d} s after passing the fix"
    utc = f"{clock:%H:%M} UTC"
    if over_at is None:
        said = f"is taken as {after}; for {utc} say with --over-at when the fix is passed"
    else:
        said = f"is taken as {utc}; for {after} write +{text}"
    return f"--leave-at: {text} {said}"


def over_s(over_at: str) -> float:
    """Return the UTC second of the day at which the fix is passed."""
    return _of_day_s(_utc(over_at, "--over-at"))


def _of_day_s(said: time | datetime) -> float:
    at = said.astimezone(UTC) if isinstance(said, datetime) else said
    return at.hour * 3600.0 + at.minute * 60.0 + at.second


def _utc(text: str, option: str, mend: str = _WRITE_UTC) -> time | datetime:
    try:
        if "T" in text or " " in text:
            given = datetime.fromisoformat(text)
            return given if given.tzinfo else given.replace(tzinfo=UTC)
        return time.fromisoformat(text.removesuffix("Z"))
    except ValueError:
        raise UsageError(f"'{text}' is no time", place=option, mend=mend) from None


def _span_s(text: str) -> float:
    found = _SPAN.fullmatch(text)
    if found is None or ("." in found["minutes"] and found["seconds"]):
        raise UsageError(f"'{text}' is no time of leaving", place="--leave-at", mend=_WRITE_SPAN)
    return 60.0 * float(found["minutes"]) + float(found["seconds"] or 0.0)
