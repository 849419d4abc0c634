"""The first rows under a table's header: what decimal mark they use, and whether they fit the header."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from analyser.errors import LogError
from analyser.logs.meaning import Meaning
from analyser.logs.raw import Content
from analyser.logs.table_layout import Layout, cells

_DECIMAL_COMMA, _DECIMAL_POINT = re.compile(r"[+-]?\d+,\d+"), re.compile(r"[+-]?\d+\.\d+")
#: So many rows are looked at.
_ROWS = 50


def first_rows(lines: Sequence[str], layout: Layout) -> list[list[str]]:
    """Cut the first rows into cells.

    Parameters
    ----------
    lines : sequence of str
        The beginning of the table.
    layout : Layout

    Returns
    -------
    list of list of str
    """
    return [
        cells(line, layout.separator) for line in lines[layout.first_line : layout.first_line + _ROWS] if line
    ]


def decimal_mark(rows: Sequence[Sequence[str]], places: Sequence[int]) -> str:
    """Tell whether the table writes a decimal comma.

    Parameters
    ----------
    rows : sequence of sequence of str
        Cells of the first rows.
    places : sequence of int
        Columns that mean something.

    Returns
    -------
    str
        ``","`` where more cells hold a number with one comma and no point than one with a point.
    """
    told = [row[place] for row in rows for place in places if place < len(row)]
    commas = sum(_DECIMAL_COMMA.fullmatch(cell) is not None for cell in told if "," in cell)
    points = sum(_DECIMAL_POINT.fullmatch(cell) is not None for cell in told) if commas else 0
    return "," if commas > points else "."


def refuse_cut_numbers(
    rows: Sequence[Sequence[str]], layout: Layout, found: Mapping[int, tuple[Meaning, str]], content: Content
) -> None:
    """Refuse a table whose decimal commas part its columns: every number would be read cut in two.

    Parameters
    ----------
    rows : sequence of sequence of str
        Cells of the first rows.
    layout : Layout
    found : mapping of int to (Meaning, str)
        Column index to meaning and standing.
    content : Content
        For the message.

    Raises
    ------
    LogError
        Where rows have more cells than the header and whole degrees stand under latitude.
    """
    at = next((place for place, (meaning, _) in found.items() if meaning.concept.name == "lat"), None)
    if layout.separator != "," or at is None:
        return
    rows = [row for row in rows if len(row) > at]
    wider = [row for row in rows if len([cell for cell in row if cell]) > len(layout.headers)]
    whole = [row for row in wider if re.fullmatch(r"[+-]?\d{1,3}", row[at])]
    if len(whole) > 0.8 * len(rows) > 0:
        raise LogError(
            f"the rows have {len(whole[0])} cells under {len(layout.headers)} headers: commas part the columns "
            "and the decimals too",
            file=content.name,
            place=f"line {layout.first_line + 1}",
            mend="export it with decimal points, or with semicolons between the columns",
        )
