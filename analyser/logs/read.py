"""The way in: a path to Tracks, folders to lists of logs."""

from __future__ import annotations

import hashlib
import stat
from dataclasses import replace
from pathlib import Path

import numpy as np

from analyser.errors import LogError, UsageError
from analyser.logs.archive import SUFFIXES, unwrapped
from analyser.logs.clean import tracks
from analyser.logs.formats import FORMATS, recognise
from analyser.logs.limits import check_size, some_of
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import concept_named, vocabulary
from analyser.logs.movement import usual_speed_kt
from analyser.logs.raw import Content, ReadOptions
from analyser.logs.text import shown
from analyser.logs.track import Notice, Track
from analyser.logs.units import unit_of

__all__ = ["ReadOptions", "find_logs", "read_log", "refuse_unknown_words"]

#: No aircraft that holds is faster over the ground, knots.
_FASTEST_KT = 1_000.0
_UNWRITTEN = bytes(8)


def read_log(path: Path, options: ReadOptions | None = None) -> list[Track]:
    """Read a log: one Track for each aircraft or flight in the file, in order of time, at least one.

    LogError with the file, the place in it, what is wrong and the mend; UsageError where the options name a column that
    the program does not know.
    """
    options = options or ReadOptions()
    refuse_unknown_words(options)
    packed = Content(shown(path.name), _bytes(path), options)
    name, sha256 = packed.name, hashlib.sha256(packed.data).hexdigest()
    read: list[Track] = []
    contents, failed = unwrapped(packed)
    del packed
    while contents:
        # Once a log is read its bytes are let go, which are most of what it takes: nothing here may hold them.
        without_data = replace(contents[0], data=b"")
        try:
            read.extend(_tracks(contents.pop(0), sha256))
        except LogError as error:
            # A reader's part may not know the file.
            named = error if error.file else without_data.refusal(error.what, error.place, error.mend)
            failed.append(named)
    if not read:
        raise failed[0]
    skipped = [Notice("member-skipped", f"Not read from the archive: {error}") for error in failed]
    if len(skipped) > LOOK.named:
        more = f"Not read from the archive: {len(skipped) - LOOK.named} more files."
        skipped[LOOK.named :] = [Notice("member-skipped", more)]
    if len(read) == 1:
        # The name of the only member of an archive says nothing.
        read = [replace(read[0], name=name)]
    return [replace(track, notices=(*track.notices, *skipped)) for track in read]


def _bytes(path: Path) -> bytes:
    """Read a file under the limit; a pipe or a device may never end, or never begin."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise LogError("this is a folder", file=str(path), mend="name one of the logs in it")
        if not stat.S_ISREG(mode):
            what = "this is a pipe or a device and no file"
            raise LogError(what, file=str(path), mend="save the log as a file first")
        check_size(path.stat().st_size, path.name)
        with path.open("rb") as file:
            # A file that is still being written counts as far as it went.
            data = file.read(path.stat().st_size)
    except OSError as error:
        raise LogError(error.strerror or "cannot be opened", file=str(path), mend="check the path") from error
    return data


def refuse_unknown_words(options: ReadOptions) -> None:
    """Refuse what in ``--columns`` and ``--units`` can mean nothing in any log: UsageError."""
    for name in options.columns:
        if concept_named(name) is None:
            known = ", ".join(concept.name for concept in vocabulary().concepts)
            raise UsageError(
                f"'{name}' is no column the program knows", place="--columns", mend=f"known: {known}"
            )
    if not options.units:
        # What only tables need is not loaded for other logs.
        return
    from analyser.logs.table_columns import DATE_ORDERS, UNIT_HELP

    for name, text in options.units.items():
        concept = concept_named(name)
        if concept is not None and text not in DATE_ORDERS and unit_of(text, concept.kind) is None:
            raise UsageError(f"'{text}' is no unit for '{name}'", place="--units", mend=UNIT_HELP)


def _tracks(content: Content, sha256: str) -> list[Track]:
    if content.data.startswith(_UNWRITTEN):
        # A recorder's first blocks may never have been written; text of two bytes a sign begins with one zero at most.
        content = replace(content, data=content.data.lstrip(b"\0"))
    form = recognise(content)
    content = replace(content, notices=(*content.notices, *_unused(content.options, form.name)))
    with np.errstate(all="ignore"):
        flights = form.read(content)
        # What was read is no longer needed as text.
        content = replace(content, data=b"")
        found = tracks(flights, content, form.name, sha256)
    for track in found:
        _check_speed(track, content)
    return found


def _check_speed(track: Track, content: Content) -> None:
    """Refuse a flight faster than any: its times or positions are misread, and every measure would be."""
    some = some_of(track.samples)
    speed_kt = usual_speed_kt(track.time_s[some], track.lat_deg[some], track.lon_deg[some])
    if speed_kt > _FASTEST_KT:
        raise content.refusal(
            f"the aircraft would move at {speed_kt:,.0f} kt, so the times or the positions are misread",
            f"{track.samples:,} samples in {track.duration_s:,.1f} s",
            "say what the times count, such as --units time=ms, or export the log again",
        )


#: Formats that use some of what is said about a table's columns.
_USES = {form: {"columns", "units"} for form in ("table", "json", "geojson", "xlsx")} | {
    form: {"units"} for form in ("kml", "fit")
}


def _unused(options: ReadOptions, form: str) -> tuple[Notice, ...]:
    """Say that an option has no say in a format that names its own values and units."""
    given = {"columns": options.columns, "units": options.units}
    idle = [f"--{name}" for name, values in given.items() if values and name not in _USES.get(form, set())]
    if not idle:
        return ()
    message = f"{' and '.join(idle)} had no effect: {form.upper()} says itself what its values are."
    return (Notice("option-unused", message),)


def find_logs(path: Path) -> list[Path]:
    """Return a file, taken whatever its name, or of a folder the files below it with a log's ending, by name.

    Hidden files are skipped. UsageError where the path does not exist or the folder holds no log.
    """
    if not path.is_dir():
        if not path.exists():
            raise UsageError("there is no such file or folder", file=str(path), mend="check the path")
        return [path]
    endings = {suffix for form in FORMATS for suffix in form.suffixes} | set(SUFFIXES)
    inside = sorted(
        file
        for file in path.rglob("*")
        if file.is_file()
        and file.suffix.lower() in endings
        and not any(part.startswith(".") for part in file.relative_to(path).parts)
    )
    if not inside:
        mend = f"known endings: {' '.join(sorted(endings))}"
        raise UsageError("no logs in this folder", file=str(path), mend=mend)
    return inside
