"""How logs are to be debriefed: the same for all logs of a run."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analyser import __version__
from analyser.collection.files import HoldFiles, HoldsForFlight, holds_for, read
from analyser.errors import UsageError
from analyser.holds.leaving_times import leave_instant
from analyser.work.session import Session

if TYPE_CHECKING:
    from analyser.logs.track import Track


@dataclass(frozen=True)
class Job:
    """How logs are to be debriefed.

    Attributes
    ----------
    out : Path
        Folder for pages and JSON; made if need be.
    holds : HoldFiles
        What the flights are held against; read anew for each log, for the variation depends on the flight's date.
    rules : "icao" or "faa"
    standard : str or None
    columns, units : mapping of str to str
        What the user says of a table's columns.
    leave_fix_at : str or None
        UTC time of day or date and time to leave the fix, overriding the hold file.
    obstacles : Path or None
        Obstacle file, for the minimum holding level.
    high_terrain : bool
        Whether that level is for high terrain.
    flight_director, turbulence : bool
        Flown with a flight director; cleared for the speed in turbulence.
    scoring : Path or None
        A school's own file of points, severities and caps.
    scales : tuple of str
        Grade scales that the page offers: names, or TOML files; none: those that come with the program.
    session : Session or None
        Whose flights they are: the page's grade sheet is filled in with it.
    """

    out: Path
    holds: HoldFiles = field(default_factory=HoldFiles)
    rules: str = "icao"
    standard: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    leave_fix_at: str | None = None
    obstacles: Path | None = None
    high_terrain: bool = False
    scales: tuple[str, ...] = ()
    flight_director: bool = False
    turbulence: bool = False
    scoring: Path | None = None
    session: Session | None = None

    def fingerprint(self) -> str:
        """Return a short mark of everything that a debrief depends on besides its log.

        Files count by their content, so that a changed hold file is another job and a copied one is not.

        Returns
        -------
        str
            Sixteen hexadecimal digits.
        """
        said = [
            __version__,
            [(file.name, _content(file), file in self.holds.named) for file in self.holds.files],
            self.rules,
            self.standard,
            _content(Path(self.standard)) if self.standard else None,
            sorted(self.columns.items()),
            sorted(self.units.items()),
            self.leave_fix_at,
            _content(self.obstacles),
            self.high_terrain,
            self.flight_director,
            self.turbulence,
            _content(self.scoring),
            [(scale, _content(Path(scale))) for scale in self.scales],
            *self._names(),
        ]
        return hashlib.sha256(json.dumps(said).encode("utf-8", "surrogateescape")).hexdigest()[:16]

    def _names(self) -> list[str | None]:
        """Return what the grade sheet is filled in with."""
        said = self.session
        return [said.pilot, said.instructor, said.device, said.lesson] if said else []


def _content(file: Path | None) -> str | None:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest() if file is not None else None
    except OSError:
        # The name of a standard that the program knows is no file; a hold file that is none is said elsewhere.
        return None


def read_job_holds(job: Job, track: Track) -> HoldsForFlight:
    """Return the holds that a flight may have flown, of those that were given.

    Raises
    ------
    HoldFileError
        A file is wrong.
    UsageError
        The time to leave is no time.
    """
    found = holds_for(job.holds, track) if job.holds.files else HoldsForFlight()
    if job.leave_fix_at is None:
        return found
    leave = leave_instant(job.leave_fix_at, track.start_utc)
    return replace(found, holds=tuple(replace(hold, leave_fix_at=leave) for hold in found.holds))


def refuse_impossible(job: Job) -> None:
    """Say what is wrong with rules, standard, scales, hold and obstacle files now, and not once for each log.

    Raises
    ------
    UsageError
    """
    from analyser.airspace.obstacle_file import obstacles_asked_for
    from analyser.debrief import rules_in_force
    from analyser.rules.scales import load_scales

    rules_in_force(job.rules, job.standard)
    load_scales(job.scales)
    for file in job.holds.files:
        read(file)
    if job.leave_fix_at is not None:
        if not job.holds.files:
            mend = "give the hold with --hold"
            raise UsageError("a time to leave needs a hold to leave", place="--leave-at", mend=mend)
        leave_instant(job.leave_fix_at, None)
    obstacles_asked_for(job.obstacles, high_terrain=job.high_terrain)
