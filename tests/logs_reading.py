"""Small helpers that the readers' tests share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from analyser.logs.read import ReadOptions, read_log
from analyser.logs.track import Track
from tests.logs_invented import Invented


def read_text(
    folder: Path,
    name: str,
    text: str,
    *,
    encoding: str = "utf-8",
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
) -> list[Track]:
    """Write a log and read it."""
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return read_log(path, ReadOptions(columns or {}, units or {}))


def read_one(folder: Path, name: str, text: str, **more: object) -> Track:
    """Write a log of one flight and read it."""
    (track,) = read_text(folder, name, text, **more)  # type: ignore[arg-type]
    return track


def codes(track: Track) -> set[str]:
    """Return the codes of a track's notices."""
    return {notice.code for notice in track.notices}


def table(
    headers: Sequence[str], *columns: Sequence[object], separator: str = ",", newline: str = "\n"
) -> str:
    """Write a table from its columns."""
    rows = [separator.join(str(cell) for cell in row) for row in zip(*columns, strict=True)]
    return newline.join([separator.join(headers), *rows]) + newline


def numbers(values: np.ndarray, decimals: int = 3) -> list[str]:
    """Write numbers; a NaN is an empty cell."""
    return ["" if np.isnan(v) else f"{v:.{decimals}f}" for v in np.asarray(values, float)]


def positions(flight: Invented) -> tuple[list[str], list[str]]:
    """Write latitudes and longitudes."""
    return numbers(flight.lat, 7), numbers(flight.lon, 7)
