"""A folder to watch: every log that has been written to its end is handed on, once; and what was watched last."""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path

from analyser.errors import ReportError, UsageError
from analyser.user_data import user_folder

#: Kept beside the logbook, so that the same folder is watched again without naming it.
_FILE = "watched.json"
LOOK_EVERY_S = 1.0

Signature = tuple[int, int]


@dataclass
class Watcher:
    """What is known of a folder and, where it is ``deep``, of those within it save the ones to ``leave_out``.

    ``endings`` are those of logs, in lower case, with the dot; a file must have been quiet for ``settle_s``.
    """

    folder: Path
    endings: frozenset[str]
    settle_s: float
    leave_out: tuple[Path, ...] = ()
    deep: bool = True
    _quiet_since: dict[Path, tuple[Signature, float]] = field(default_factory=dict)
    _done: dict[Path, Signature] = field(default_factory=dict)

    def take_as_done(self) -> int:
        """Take everything that is there now for known, so that only new logs are handed on; return how many."""
        self._done = dict(self._files())
        return len(self._done)

    def ready(self, now: float) -> list[Path]:
        """Return the logs whose writing has stopped and that have not been handed on as they are now, by name.

        ``now`` are seconds of a clock that never goes back. A log that has grown since it was handed on comes again.
        """
        found = dict(self._files())
        self._quiet_since = {path: seen for path, seen in self._quiet_since.items() if path in found}
        whole = []
        for path, signature in sorted(found.items()):
            if self._done.get(path) == signature:
                continue
            before = self._quiet_since.get(path)
            if before is None or before[0] != signature:
                self._quiet_since[path] = (signature, now)
            elif now - before[1] >= self.settle_s:
                self._done[path] = signature
                whole.append(path)
        return whole

    def _files(self) -> Iterator[tuple[Path, Signature]]:
        for parent, folders, names in os.walk(self.folder):
            here = Path(parent)
            folders[:] = [
                one
                for one in folders
                if self.deep and not one.startswith(".") and here / one not in self.leave_out
            ]
            for name in names:
                path = here / name
                if name.startswith(".") or path.suffix.lower() not in self.endings:
                    continue
                try:
                    state = path.stat()
                except OSError:
                    # Deleted meanwhile or not yet readable: looked at again in the next round.
                    continue
                if state.st_size > 0:
                    yield path, (state.st_size, state.st_mtime_ns)


def watcher_of(folder: Path, settle_s: float, pages: Path) -> Watcher:
    """Watch a folder for logs of every format, save where its pages are written, perhaps below it."""
    from analyser.logs.formats import FORMATS

    # A debrief and a saved grade sheet are .json too; no recorder writes its logs under that ending.
    endings = {ending for form in FORMATS for ending in form.suffixes} - {".json"} | {".gz", ".zip"}
    return Watcher(folder.absolute(), frozenset(endings), settle_s, leave_out=(pages,))


def watcher_of_sheets(folder: Path, settle_s: float) -> Watcher:
    """Watch the folder that a browser saves files to, and none within it, for grade sheets."""
    return Watcher(folder.absolute(), frozenset({".json"}), settle_s, deep=False)


def watch(folders: Sequence[tuple[Watcher, Callable[[list[Path]], None]]]) -> None:
    """Hand on what is new in each folder when its writing has stopped, until Ctrl-C."""
    while True:
        for watcher, each in folders:
            if whole := watcher.ready(time.monotonic()):
                each(whole)
        time.sleep(LOOK_EVERY_S)


@dataclass(frozen=True)
class Watched:
    """A folder that was watched: where the logs come from, the pages go and sheets are saved, from the root.

    With it for whom the debriefs were recorded, and what was said of each. The lesson is another one the next time.
    """

    folder: str
    out: str
    pilot: str | None = None
    pilot_folders: bool = False
    instructor: str | None = None
    device: str | None = None
    sheets: str | None = None


def remember(watched: Watched) -> None:
    """Keep it for the next time; where that cannot be, the folder is named again."""
    from analyser.whole_files import write_text_whole

    with contextlib.suppress(ReportError):
        write_text_whole(user_folder() / _FILE, json.dumps(asdict(watched), indent=1) + "\n")


def remembered() -> Watched:
    """Return what was watched last.

    Raises UsageError if nothing was.
    """
    try:
        said = json.loads((user_folder() / _FILE).read_text(encoding="utf-8"))
        known = {one.name: said[one.name] for one in fields(Watched) if one.name in said}
        if not all(value is None or isinstance(value, (str, bool)) for value in known.values()):
            raise TypeError
        return Watched(**{**known, "folder": str(Path(known["folder"])), "out": str(Path(known["out"]))})
    except (OSError, ValueError, KeyError, TypeError):
        mend = "name the folder that the recorder writes its logs into; it is remembered"
        raise UsageError("no folder has been watched before", place="FOLDER", mend=mend) from None
