"""The way in: a path to Tracks, folders to lists of logs."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from analyser.errors import LogError, UsageError
from analyser.logs.archive import unwrapped
from analyser.logs.clean import tracks
from analyser.logs.formats import FORMATS, Format
from analyser.logs.limits import check_size
from analyser.logs.raw import Content, ReadOptions
from analyser.logs.text import encoding_of, is_binary, shown
from analyser.logs.track import Notice, Track
from analyser.logs.vocabulary import concept_named, vocabulary
from analyser.logs.xml_tree import root_name

__all__ = ["ReadOptions", "find_logs", "read_log"]

#: Content is recognised from so many bytes.
_HEAD_BYTES = 64_000


def read_log(path: Path, options: ReadOptions | None = None) -> list[Track]:
    """Read a log.

    Parameters
    ----------
    path : Path
    options : ReadOptions, optional
        What the person says about a table's columns and units.

    Returns
    -------
    list of Track
        One for each aircraft or flight in the file, in order of time; at least one.

    Raises
    ------
    LogError
        With the file, the place in it, what is wrong and the mend.
    UsageError
        Where the options name a column that the program does not know.
    """
    options = options or ReadOptions()
    _check_names(options)
    try:
        check_size(path.stat().st_size, path.name)
        data = path.read_bytes()
    except OSError as error:
        raise LogError(error.strerror or "cannot be opened", file=str(path), mend="check the path") from error
    sha256 = hashlib.sha256(data).hexdigest()
    read: list[Track] = []
    failed: list[LogError] = []
    packed = Content(shown(path.name), data, options)
    for content in unwrapped(packed):
        try:
            read.extend(_tracks(content, sha256))
        except LogError as error:
            failed.append(error)
    if not read:
        raise failed[0]
    said = tuple(Notice("member-skipped", f"Not read from the archive: {error}") for error in failed)
    return [
        replace(track, name=_name(track, packed, len(read)), notices=(*track.notices, *said))
        for track in read
    ]


def _check_names(options: ReadOptions) -> None:
    for name in options.columns:
        if concept_named(name) is None:
            known = ", ".join(concept.name for concept in vocabulary().concepts)
            raise UsageError(
                f"'{name}' is no column the program knows", place="--columns", mend=f"known: {known}"
            )


def _name(track: Track, packed: Content, count: int) -> str:
    """Leave the member's name out where an archive holds one log only."""
    return packed.name if count == 1 else track.name


def _tracks(content: Content, sha256: str) -> list[Track]:
    form = recognise(content)
    content = replace(content, notices=(*content.notices, *_unused(content.options, form.name)))
    with np.errstate(all="ignore"):
        return tracks(form.read(content), content, form.name, sha256)


#: Formats that use some of what is said about a table's columns.
_USES = {"table": {"columns", "units"}, "kml": {"units"}, "geojson": {"units"}}


def _unused(options: ReadOptions, form: str) -> tuple[Notice, ...]:
    """Say that an option has no say in a format that names its own values and units."""
    said = {"columns": options.columns, "units": options.units}
    idle = [f"--{name}" for name, values in said.items() if values and name not in _USES.get(form, set())]
    if not idle:
        return ()
    message = f"{' and '.join(idle)} had no effect: {form.upper()} says itself what its values are."
    return (Notice("option-unused", message),)


def recognise(content: Content) -> Format:
    """Tell a log's format from its content.

    Parameters
    ----------
    content : Content

    Returns
    -------
    Format

    Raises
    ------
    LogError
        For an empty file, for binary content, and where no format fits.
    """
    head = content.data[:_HEAD_BYTES]
    if not head.strip():
        raise LogError("the file is empty", file=content.name, mend="record or export it again")
    if is_binary(head):
        raise LogError(
            "this is binary content in no open log format",
            file=content.name,
            mend="export the flight as GPX or CSV",
        )
    text = head.decode(encoding_of(head), errors="replace").removeprefix("\ufeff")
    if text.lstrip().startswith("<") and not any(form.looks_like(text) for form in FORMATS[:-1]):
        raise LogError(
            "the file is XML and neither GPX nor KML",
            file=content.name,
            place=f"root element '{shown(root_name(text))}'",
            mend="export the flight as GPX or CSV",
        )
    form = next((form for form in FORMATS if form.looks_like(text)), None)
    if form is None:
        raise LogError(
            "the content is in no format the program reads",
            file=content.name,
            place="line 1",
            mend="export it as GPX or CSV",
        )
    return form


def find_logs(paths: Sequence[Path]) -> list[Path]:
    """Expand files and folders to log files.

    Parameters
    ----------
    paths : sequence of Path
        A file is taken whatever its name; a folder gives the files in it (and below) with a log's ending.

    Returns
    -------
    list of Path
        Each once, folders' files sorted by name; hidden files are skipped.

    Raises
    ------
    UsageError
        Where a path does not exist or a folder holds no log.
    """
    endings = {suffix for form in FORMATS for suffix in form.suffixes} | {".gz", ".zip"}
    found: dict[Path, None] = {}
    for path in paths:
        if path.is_dir():
            inside = sorted(
                file
                for file in path.rglob("*")
                if file.is_file()
                and file.suffix.lower() in endings
                and not any(part.startswith(".") for part in file.relative_to(path).parts)
            )
            if not inside:
                raise UsageError(
                    "no logs in this folder",
                    file=str(path),
                    mend=f"known endings: {' '.join(sorted(endings))}",
                )
            found.update(dict.fromkeys(inside))
        elif path.exists():
            found[path] = None
        else:
            raise UsageError("there is no such file or folder", file=str(path), mend="check the path")
    if not found:
        raise UsageError("no log was named", mend="name a log file or a folder of them")
    return list(found)
