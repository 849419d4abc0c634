"""Whose flights the logs of a run are, as the person said it."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from analyser.errors import UsageError


@dataclass(frozen=True)
class Session:
    """Whose flights the logs are.

    Attributes
    ----------
    pilot : str or None
        None: each log lies in its pilot's own folder.
    instructor, device, lesson : str or None
    logbook : str or None
        Where it is; None: the user's own.
    schools : tuple of Path
        Folders that hold a folder for each pilot.
    """

    pilot: str | None
    instructor: str | None = None
    device: str | None = None
    lesson: str | None = None
    logbook: str | None = None
    schools: tuple[Path, ...] = ()

    def pilot_of(self, log: Path) -> str:
        """Return who flew a log.

        Raises
        ------
        UsageError
            The log lies in no pilot's folder.
        """
        from analyser.logbook.names import pilot_from_folder

        return pilot_from_folder(log, self.schools) if self.pilot is None else self.pilot

    def filled(self, log: Path) -> dict[str, str]:
        """Return what is known beforehand of a log's grade sheet."""
        with suppress(UsageError):
            told = {"pilot": self.pilot_of(log)}
            rest = {"instructor": self.instructor, "device": self.device, "lesson": self.lesson}
            return told | {key: value for key, value in rest.items() if value}
        return {}


def session_of(
    pilot: str | None,
    instructor: str | None,
    device: str | None,
    lesson: str | None,
    logbook: str | None,
    *,
    folders: bool = False,
) -> Session | None:
    """Put together what was said about a session; None where nothing is to be recorded.

    With ``folders`` each log lies in its pilot's own folder.

    Raises
    ------
    UsageError
        Something is said of a session without a pilot, the pilot is said twice, or a name cannot be one.
    """
    if pilot is not None and folders:
        raise UsageError("a pilot and folders of pilots are given", mend="give one of them")
    if pilot is None and not folders:
        options = {"--instructor": instructor, "--device": device, "--lesson": lesson}
        for option, value in options.items():
            if value is not None:
                mend = "say whose flight it is with --pilot or --pilot-folders"
                raise UsageError("nothing is recorded without a pilot", place=option, mend=mend)
        return None
    from analyser.logbook.names import clean_name

    named = {"instructor": instructor, "device": device, "lesson": lesson}
    cleaned = {what: clean_name(name, what=what) if name else None for what, name in named.items()}
    flown_by = clean_name(pilot) if pilot is not None else None
    return Session(flown_by, cleaned["instructor"], cleaned["device"], cleaned["lesson"], logbook)
