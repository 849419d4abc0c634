"""How the logs of a run are to be debriefed, and whose flights they are."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser import __version__
from analyser.collection.files import HoldFiles, HoldsForFlight, holds_for, read
from analyser.errors import UsageError
from analyser.frozen import dataclass
from analyser.holds.leaving_times import leave_instant
from analyser.logs.raw import ReadOptions

if TYPE_CHECKING:
    from analyser.debrief import Debrief
    from analyser.holds.definition import Hold
    from analyser.logs.track import Track


@dataclass(frozen=True)
class Recording:
    """Whose flights the logs of a run are, as the person said it, and where they are recorded.

    Without a ``pilot`` each log lies in its pilot's own folder, and ``schools`` are the folders that hold a folder for
    each; without a ``logbook`` it is the user's own.
    """

    pilot: str | None
    instructor: str | None = None
    device: str | None = None
    lesson: str | None = None
    logbook: str | None = None
    schools: tuple[Path, ...] = ()

    def pilot_of(self, log: Path) -> str:
        """Return who flew a log.

        Raises UsageError if the log lies in no pilot's folder.
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


@dataclass(frozen=True)
class Job:
    """How logs are to be debriefed.

    The ``out`` folder is made if need be. ``holds`` are read anew for each log, for the variation depends on the
    flight's date; ``leave_fix_at``, UTC, overrides their files. ``obstacles`` is a file of them, for the minimum
    holding level; ``scoring`` a school's own of points, severities and caps; ``scales`` are names or TOML files, none
    for those that come with the program. With the ``recording`` the page's grade sheet is filled in.
    """

    out: Path
    holds: HoldFiles = field(default_factory=HoldFiles)
    rules: str = "icao"
    standard: str | None = None
    reading: ReadOptions = field(default_factory=ReadOptions)
    leave_fix_at: str | None = None
    obstacles: Path | None = None
    high_terrain: bool = False
    scales: tuple[str, ...] = ()
    flight_director: bool = False
    turbulence: bool = False
    scoring: Path | None = None
    recording: Recording | None = None

    def fingerprint(self) -> str:
        """Return a short mark, sixteen hexadecimal digits, of everything that a debrief depends on besides its log.

        Files count by their content, so that a changed hold file is another job and a copied one is not.
        """
        said = [
            _mark(getattr(self, one.name)) for one in fields(self) if one.name not in ("out", "recording")
        ]
        if (whose := self.recording) is not None:
            said += [whose.pilot, whose.instructor, whose.device, whose.lesson]
        text = json.dumps([__version__, *said])
        return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]

    def holds_for(self, track: Track) -> HoldsForFlight:
        """Return the holds that a flight may have flown, of those that were given.

        Raises HoldFileError if a file is wrong. Raises UsageError if the time to leave is no time.
        """
        found = holds_for(self.holds, track) if self.holds.files else HoldsForFlight()
        if self.leave_fix_at is None:
            return found
        leave = leave_instant(self.leave_fix_at, track.start_utc)
        return replace(found, holds=tuple(replace(hold, leave_fix_at=leave) for hold in found.holds))

    def debriefed(self, track: Track, holds: Sequence[Hold]) -> Debrief:
        """Debrief a flight by this job, held against these of the given holds."""
        from analyser.airspace.obstacle_file import obstacles_asked_for
        from analyser.debrief import debrief_track
        from analyser.rules.scoring import load_scoring

        return debrief_track(
            track,
            holds=holds,
            rules=self.rules,
            standard=self.standard,
            obstacles=obstacles_asked_for(self.obstacles, high_terrain=self.high_terrain),
            high_terrain=self.high_terrain,
            flight_director=self.flight_director,
            turbulence=self.turbulence,
            scoring=load_scoring(self.scoring),
        )

    def refuse_impossible(self) -> None:
        """Say what is wrong with what was asked for now, and not once for each log.

        Raises UsageError.
        """
        from analyser.airspace.obstacle_file import obstacles_asked_for
        from analyser.logs.read import refuse_unknown_words
        from analyser.rules.load import rules_in_force
        from analyser.rules.scales import load_scales
        from analyser.rules.scoring import load_scoring

        rules_in_force(self.rules, self.standard)
        load_scales(self.scales)
        load_scoring(self.scoring)
        refuse_unknown_words(self.reading)
        for file in self.holds.files:
            read(file)
        if self.leave_fix_at is not None:
            if not self.holds.files:
                mend = "give the hold with --hold"
                raise UsageError("a time to leave needs a hold to leave", place="--leave-at", mend=mend)
            leave_instant(self.leave_fix_at, None)
        obstacles_asked_for(self.obstacles, high_terrain=self.high_terrain)


def _mark(value: Any) -> Any:
    """Write an option so that it differs where another debrief would come of it; a file is marked by its content."""
    if isinstance(value, HoldFiles):
        return [(file.name, _content(file), file in value.named) for file in value.files]
    if isinstance(value, ReadOptions):
        return [sorted(value.columns.items()), sorted(value.units.items())]
    if isinstance(value, tuple):
        return [_mark(one) for one in value]
    if isinstance(value, Path):
        return _content(value)
    return [value, _content(Path(value))] if isinstance(value, str) else value


def _content(file: Path) -> str | None:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError:
        # The name of a standard that the program knows is no file; a hold file that is none is said elsewhere.
        return None
