"""Where the program keeps what is the user's own: logbook, collection of holds, what was watched last."""

from __future__ import annotations

import os
from pathlib import Path

#: Names another folder.
VARIABLE = "ANALYSER_DATA"


def user_folder() -> Path:
    """Return the user's data folder; it need not be there yet."""
    said = os.environ.get(VARIABLE)
    if said:
        return Path(said).expanduser()
    from platformdirs import user_data_path

    return user_data_path("analyser", appauthor=False)
