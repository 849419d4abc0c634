"""Templates are compiled once and kept in the person's cache folder: it takes a tenth of a debrief otherwise."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from analyser import __version__

if TYPE_CHECKING:
    from jinja2 import BytecodeCache


def template_cache() -> BytecodeCache | None:
    """Return where compiled templates are kept.

    Returns
    -------
    BytecodeCache or None
        None where no folder can be written; templates are then compiled each time, and nothing else changes.

    Notes
    -----
    What is kept is checked against the template's text when it is used. The version is in the folder's name because
    the text alone does not tell how it was compiled.
    """
    from jinja2 import FileSystemBytecodeCache
    from jinja2.bccache import Bucket
    from platformdirs import user_cache_dir

    class Kept(FileSystemBytecodeCache):
        def load_bytecode(self, bucket: Bucket) -> None:
            with contextlib.suppress(OSError):
                super().load_bytecode(bucket)

        def dump_bytecode(self, bucket: Bucket) -> None:
            # A full disk must not cost a page that is in hand.
            with contextlib.suppress(OSError):
                super().dump_bytecode(bucket)

    folder = Path(user_cache_dir("analyser", appauthor=False)) / f"templates-{__version__}"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        # Compiled code is run: a folder that another user could write to is not trusted.
        mine = not hasattr(os, "getuid") or folder.stat().st_uid == os.getuid()
        private = os.name == "nt" or not folder.stat().st_mode & 0o022
    except OSError:
        return None
    return Kept(str(folder), "%s.compiled") if mine and private and os.access(folder, os.W_OK) else None
