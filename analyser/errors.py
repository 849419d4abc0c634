"""Everything the program raises on purpose, in one tree.

::

    AnalyserError               a message for the person at the keyboard: no traceback
    ├── LogError                a log cannot be read           → exit status 1
    ├── ReportError             a report cannot be written     → exit status 1
    ├── LogbookError            the logbook cannot be used     → exit status 1
    └── UsageError              what was asked is impossible   → exit status 2
        ├── HoldFileError       a hold file is wrong
        └── SettingsError       another settings file is wrong (standard, scale, obstacles …)

Every message names the file, the place in it, what is wrong, and the mend.
"""

from __future__ import annotations


class AnalyserError(Exception):
    """A fault that a person can mend, with the words to mend it.

    ``what`` is wrong, in one sentence; the ``file``'s name as the person gave it; the ``place`` in it: ``"line 12"``,
    ``"column 'alt'"``, ``"element trkpt 40"``, ``"key 'fix.lat'"``; and the ``mend``, what the person can do about it.
    """

    exit_status = 1

    def __init__(self, what: str, *, file: str = "", place: str = "", mend: str = "") -> None:
        self.what, self.file, self.place, self.mend = what, file, place, mend
        super().__init__(str(self))

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.file, self.place) if part)
        said = f"{where}: {self.what}" if where else self.what
        return f"{said} ({self.mend})" if self.mend else said


class LogError(AnalyserError):
    """A log cannot be read."""


class ReportError(AnalyserError):
    """A report cannot be written."""


class LogbookError(AnalyserError):
    """The logbook cannot be used."""


class UsageError(AnalyserError):
    """What was asked for is impossible."""

    exit_status = 2


class HoldFileError(UsageError):
    """A hold file is wrong."""


class SettingsError(UsageError):
    """A settings file other than a hold file is wrong."""
