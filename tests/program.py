"""The command line run within the test: the same words, streams and exit status, without a new process for each.

A flight that was debriefed by it is not debriefed again for the same words: what came of it is remembered.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import pickle
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from unittest import mock

import analyser.debrief
from analyser.cli import main

_DEBRIEF_TRACK = analyser.debrief.debrief_track
#: How many flights' debriefs are kept.
_KEPT = 40
_remembered: dict[bytes, Any] = {}


@dataclass(frozen=True)
class Ended:
    """How a command ended, and what it said."""

    returncode: int
    stdout: str
    stderr: str


def run(
    *words: object,
    environment: Mapping[str, str] | None = None,
    text: str | None = None,
    encoding: str = "utf-8",
) -> Ended:
    """Run the program where the test stands, with more in its environment, or a text as its standard input."""
    said, complained = _stream(encoding=encoding), _stream()
    with (
        mock.patch.object(sys, "argv", ["analyser", *map(str, words)]),
        mock.patch.object(sys, "stdin", sys.stdin if text is None else _stream(text)),
        mock.patch.dict(os.environ, environment or {}),
        mock.patch.object(analyser.debrief, "debrief_track", _once()),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(complained),
    ):
        status = _status()
    ended = Ended(status, _all_of(said), _all_of(complained))
    assert "Traceback" not in ended.stderr
    return ended


def _once() -> Any:
    """Return what debriefs a track; what a test put in its place stands."""
    standing = analyser.debrief.debrief_track
    return _debriefed if standing is _DEBRIEF_TRACK else standing


def _debriefed(*track: Any, **settings: Any) -> Any:
    key = hashlib.sha256(pickle.dumps((track, sorted(settings.items())))).digest()
    if key not in _remembered:
        while len(_remembered) >= _KEPT:
            del _remembered[next(iter(_remembered))]
        _remembered[key] = _DEBRIEF_TRACK(*track, **settings)
    return _remembered[key]


def _status() -> int:
    try:
        main()
    except SystemExit as stopped:
        return int(stopped.code or 0)
    return 0


def _stream(text: str = "", *, encoding: str = "utf-8") -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(text.encode()), encoding=encoding, write_through=True)


def _all_of(stream: io.TextIOWrapper) -> str:
    stream.flush()
    assert isinstance(stream.buffer, io.BytesIO)
    return stream.buffer.getvalue().decode(stream.encoding)
