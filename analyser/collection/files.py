"""The hold files that flights are held against: a file, several, a folder of them, or the user's own collection."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from analyser.errors import HoldFileError, UsageError
from analyser.frozen import dataclass
from analyser.user_data import user_folder

if TYPE_CHECKING:
    from analyser.circuits.flown import PossibleHold
    from analyser.holds.definition import Hold
    from analyser.holds.holdfile import HoldFile
    from analyser.logs.track import Track

ENDING = ".toml"
#: A file of a collection whose fix lies farther than this from the whole flight is passed over, nautical miles: no
#: sign lost and no hold flown beside its fix is looked for there.
FAR_NM = 60.0
#: A file without a fix belongs to a hold of its hand whose inbound course is within so many degrees of its own.
LIKE_COURSE_DEG = 45.0
#: How many files are kept as read, so that not each log of a thousand has them read and checked anew.
_KEPT = 2000


@dataclass(frozen=True)
class HoldFiles:
    """What flights are to be held against: files in the order they were named, those of a folder by name.

    Of those that were ``named`` one by one it is said where such a file fits no hold of a flight; ``left_out`` says
    what is wrong with files of a folder.
    """

    files: tuple[Path, ...] = ()
    named: frozenset[Path] = frozenset()
    left_out: tuple[str, ...] = ()

    def absolute(self) -> HoldFiles:
        """Name every file from the root, for whoever has another current folder."""
        return HoldFiles(
            tuple(file.absolute() for file in self.files), frozenset(file.absolute() for file in self.named)
        )


def own_folder() -> Path:
    """Return the folder of the user's own collection."""
    return user_folder() / "holds"


def collect(paths: Sequence[Path], *, infer: bool = False) -> HoldFiles:
    """Expand files and folders given with ``--hold``; nothing given is the user's own collection, save to ``infer``.

    Raises HoldFileError if a file that was named is wrong, or a folder that was named has no hold files. Raises
    UsageError if files are given, and none is to be taken.
    """
    if infer:
        if paths:
            raise UsageError("a hold file is given, and the hold is to be inferred", mend="give one of them")
        return HoldFiles()
    files: dict[Path, None] = {}
    named: set[Path] = set()
    faults: list[str] = []
    for path in paths or (own_folder(),):
        if path.is_dir():
            found = list(files_of(path))
            for file in found:
                try:
                    read(file)
                except HoldFileError as fault:
                    faults.append(f"{fault}; left out")
                else:
                    files[file] = None
            if not found and paths:
                mend = "make one with: analyser hold new"
                raise HoldFileError("no hold files in this folder", file=str(path), mend=mend)
        elif paths:
            read(path)
            files[path] = None
            named.add(path)
    return HoldFiles(tuple(files), frozenset(named), tuple(faults))


def files_of(folder: Path) -> Iterator[Path]:
    """List the hold files of a folder, by name."""
    for path in sorted(folder.iterdir()):
        if path.suffix.lower() == ENDING and not path.name.startswith(".") and path.is_file():
            yield path


def read(path: Path) -> HoldFile:
    """Read a hold file; a log in its place is recognised.

    Raises HoldFileError.
    """
    try:
        state = path.stat()
        return _read(path, state.st_mtime_ns, state.st_size)
    except OSError as error:
        mend = "check the name and the path"
        raise HoldFileError(
            (error.strerror or "cannot be read").lower(), file=str(path), mend=mend
        ) from error


@lru_cache(maxsize=_KEPT)
def _read(path: Path, _changed_ns: int, _size: int) -> HoldFile:
    from analyser.holds.holdfile import read_hold_file
    from analyser.logs.formats import FORMATS

    try:
        return read_hold_file(path)
    except HoldFileError as fault:
        if fault.place.startswith("key") or not any(path.suffix.lower() in form.suffixes for form in FORMATS):
            raise
        mend = f"debrief it: analyser debrief {path}; or make one of what it flew: analyser hold from {path}"
        raise HoldFileError("this is a log, no hold file", file=str(path), mend=mend) from fault


@dataclass(frozen=True)
class HoldsForFlight:
    """Of the holds that were given, those that one flight may have flown, each with its file's name.

    ``unlike`` are the files that were named and give no fix, where no hold of the flight is of their hand and course.
    """

    holds: tuple[Hold, ...] = ()
    unlike: tuple[str, ...] = ()


def holds_for(given: HoldFiles, track: Track) -> HoldsForFlight:
    """Return the holds that a flight may have flown, of those that were given; its date tells the variation.

    Where a file gives no fix it is inferred from the flight's own holds of that hand and about that course.
    """
    when = track.start_utc
    found: list[tuple[Path, Hold]] = []
    partly: list[tuple[Path, HoldFile]] = []
    for path in given.files:
        file = read(path)
        if not file.fix_given:
            partly.append((path, file))
        elif path in given.named or _near(file.hold(when), track):
            found.append((path, file.hold(when)))
    found += _with_inferred_fix(partly, given, track) if partly else []
    like = {path for path, _ in found}
    unlike = [path.name for path, _ in partly if path in given.named and path not in like]
    return HoldsForFlight(tuple(replace(hold, file=path.name) for path, hold in found), tuple(unlike))


def _near(hold: Hold, track: Track) -> bool:
    import numpy as np

    from analyser.earth.plane import LocalPlane

    # Every so many samples are enough to tell a flight from another country's.
    thin = slice(None, None, max(1, track.samples // 500))
    plane = LocalPlane(hold.fix_lat_deg, hold.fix_lon_deg)
    east, north, _ = plane.to_plane(track.lat_deg[thin], track.lon_deg[thin])
    return bool(np.nanmin(np.hypot(east, north)) <= FAR_NM)


def _with_inferred_fix(
    files: Iterable[tuple[Path, HoldFile]], given: HoldFiles, track: Track
) -> Iterator[tuple[Path, Hold]]:
    from analyser.circuits.find import search
    from analyser.earth.angles import wrap180

    found = search(track)
    # What may have been a hold is one where a file says that there was one of its hand and course.
    holds: list[Hold | PossibleHold] = [one.inferred or one.hold for one in found.holds]
    for path, file in files:
        for own in [*holds, *found.possible]:
            hold = file.hold_at(own.fix_lat_deg, own.fix_lon_deg, track.start_utc)
            off_deg = wrap180(own.inbound_course_true_deg - hold.inbound_course_true_deg)
            # A file that was named by itself is meant, also where the flight turned the other way.
            if abs(off_deg) <= LIKE_COURSE_DEG and (hold.turns == own.turns or path in given.named):
                yield path, hold
