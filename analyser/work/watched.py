"""What was watched last, so that whoever starts it again types nothing."""

from __future__ import annotations

import contextlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from analyser.errors import ReportError, UsageError
from analyser.user_data import user_folder

_FILE = "watched.json"


@dataclass(frozen=True)
class Watched:
    """A folder that was watched.

    Attributes
    ----------
    folder, out : str
        Where the logs come from and the pages go, from the root.
    pilot : str or None
        For whom the debriefs were recorded.
    """

    folder: str
    out: str
    pilot: str | None = None


def remember(watched: Watched) -> None:
    """Keep it for the next time; where that cannot be, the folder is named again."""
    from analyser.pages.write import write_text_whole

    with contextlib.suppress(ReportError):
        write_text_whole(user_folder() / _FILE, json.dumps(asdict(watched), indent=1) + "\n")


def remembered() -> Watched:
    """Return what was watched last.

    Raises
    ------
    UsageError
        Nothing was.
    """
    try:
        said = json.loads((user_folder() / _FILE).read_text(encoding="utf-8"))
        pilot = said["pilot"]
        return Watched(
            str(Path(said["folder"])), str(Path(said["out"])), None if pilot is None else str(pilot)
        )
    except (OSError, ValueError, KeyError, TypeError):
        mend = "name the folder that the recorder writes its logs into; it is remembered"
        raise UsageError("no folder has been watched before", place="FOLDER", mend=mend) from None
