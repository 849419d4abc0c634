"""From the paths that were named to the logs that are to be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analyser.collection.files import ENDING
from analyser.errors import UsageError
from analyser.work.earlier import is_debrief
from analyser.work.table import is_table


@dataclass(frozen=True)
class Gathered:
    """What there is to do.

    Attributes
    ----------
    logs : tuple of Path
        In the order they were named; those of a folder by name.
    faults : tuple of str
        One message for each path at which there is nothing to read.
    """

    logs: tuple[Path, ...]
    faults: tuple[str, ...]


def gather(paths: Sequence[Path]) -> Gathered:
    """Expand files and folders to logs.

    Parameters
    ----------
    paths : sequence of Path
        A file is taken whatever it is; in a folder, debriefs and tables that this program wrote are passed over.

    """
    from analyser.logs.read import find_logs

    logs: dict[Path, None] = {}
    faults = []
    for path in paths:
        try:
            found = find_logs([path])
        except UsageError as error:
            faults.append(str(error))
            continue
        if path.suffix.lower() == ENDING and path.is_file():
            mend = f"give it with --hold: analyser debrief LOG --hold {path}"
            faults.append(str(UsageError("a hold file is no log", file=str(path), mend=mend)))
            continue
        if path.is_dir():
            found = [log for log in found if not _is_own(log)]
            if not found:
                mend = "name the folder that the logs are in"
                faults.append(str(UsageError("no logs but the reports of some", file=str(path), mend=mend)))
        logs.update(dict.fromkeys(found))
    return Gathered(tuple(logs), tuple(faults))


def _is_own(file: Path) -> bool:
    """Tell whether a file with a log's ending is what this program wrote, perhaps into the folder of the logs."""
    kind = {".json": is_debrief, ".csv": is_table}.get(file.suffix.lower())
    if kind is None:
        return False
    try:
        with file.open(encoding="utf-8-sig", errors="replace") as text:
            return kind(text.read(200))
    except OSError:
        # Whoever reads it as a log will say what is wrong with it.
        return False
