"""Where a table begins: separator, header row, units row, decimal mark. Rows are scored by what their cells mean."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import pairwise, product, takewhile, zip_longest

from analyser.frozen import dataclass
from analyser.logs.limits import MAX_COLUMNS, some_of
from analyser.logs.log_thresholds import LOOK
from analyser.logs.meaning import Meaning, concepts_of, meaning_of, means, vocabulary
from analyser.logs.raw import Content
from analyser.logs.text import without_accents
from analyser.logs.units import is_unit

#: Tried in this order; at the same score the earlier one wins.
SEPARATORS = (",", ";", "\t", "|", " ")
_DECIMAL_POINT = re.compile(r"[+-]?\d+\.\d+")
#: The mark in a cell that is a number, and the first in one that may be more; numbers whose mark may part thousands.
_MARK, _MARK_INSIDE = re.compile(r"^[+-]?\d+([.,])\d+$"), re.compile(r"\d([.,])\d")
_THOUSANDS = re.compile(r"[+-]?\d{1,2}[.,]\d{3}")
#: A number cut at the comma that parts its thousands; fewer rows that look so tell nothing.
_UP_TO_999, _THREE_DIGITS = re.compile(r"[+-]?\d{1,3}"), re.compile(r"\d{3}(?:\.\d+)?")
#: Where a line above the header names the zone of the times.
_ZONE = re.compile(
    r"(?:time ?zone|utc offset|zeitzone|fuseau horaire|zona horaria|fuso orario)\W{1,4}"
    r"((?:UTC|GMT)?\s*[+-]\d{1,2}(?::?\d{2})?|[a-z]+/[a-z_]+|[a-z]{2,4})\b",
    re.IGNORECASE,
)
#: Where a line above the header gives the day of the flight, and not that of the export.
_DATE = re.compile(
    r"^\W*(?:flight )?(?:date|datum|fecha|data)(?: of flight| utc)?[^\w\n]{1,5}(\w[^;\t|\"]{5,40}?)\W*$",
    re.IGNORECASE,
)
#: A date alone in its cell.
_DAY = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}$")
_COMMENT = ("#", "%", "//", "'", "*", "!")


@dataclass(frozen=True)
class Layout:
    """How a table is written."""

    #: One of :data:`SEPARATORS`; a blank stands for any run of blanks.
    separator: str
    #: Trimmed; empty for a blank column.
    headers: tuple[str, ...]
    #: From the units row; empty strings where there is none.
    units: tuple[str, ...]
    #: Index of the first line of data, from 0.
    first_line: int
    #: The times' offset from UTC or their zone's name, and the day, where a line above the header gives it.
    zone: str = ""
    date: str = ""


def cells(line: str, separator: str) -> list[str]:
    """Cut one line into trimmed cells."""
    if separator == " ":
        return line.split()
    found = line.split(separator) if line else []
    if '"' in line:
        with suppress(csv.Error):
            found = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
    return [cell.strip() for cell in found[: MAX_COLUMNS + 1]]


def find_layout(lines: Sequence[str], content: Content, separators: Sequence[str] = SEPARATORS) -> Layout:
    """Find the header row and what goes with it in the first lines of the text.

    LogError where no row names a position, or the table is too wide.
    """
    told = {header.strip().casefold() for header in content.options.columns.values()}
    best: tuple[float, int, str] | None = None
    scored = 0
    for number, line in enumerate(lines[: LOOK.head_lines]):
        bare = _without_comment(line)
        # Data rows name nothing; a while after a full header there is nothing to look for.
        past = best is not None and number > best[1] + LOOK.after_header_lines
        if past or scored >= LOOK.header_candidates:
            break
        if not told and not _may_name_a_position(bare):
            continue
        scored += 1
        scores = [(_score(cells(bare, mark), told), mark) for mark in separators if mark in bare]
        # Words of one header have blanks between them too: those count where nothing else parts the columns.
        parted = any(score for score, mark in scores if mark != " ")
        for score, mark in scores:
            if score > (best[0] if best is not None else 0.0) and not (parted and mark == " "):
                best = (score, number, mark)
    if best is None:
        return _numbered(lines, content)
    score, number, separator = best
    headers, number = _over_two_rows(lines, number, separator, score, told)
    if len(headers) > MAX_COLUMNS:
        what = f"the table has more than {MAX_COLUMNS} columns"
        raise content.refusal(what, f"line {number + 1}", "export only the columns of the flight")
    if separator == " ":
        headers = _cut_as_rows(
            _without_comment(lines[number]), headers, lines[number + 1 : number + 1 + LOOK.units_within_lines]
        )
    zone, date = (
        next((found[1] for line in lines[:number] if (found := form.search(line))), "")
        for form in (_ZONE, _DATE)
    )
    return replace(with_units(lines, number, separator, headers), zone=zone, date=date)


def _cut_as_rows(header: str, names: list[str], rows: Sequence[str]) -> list[str]:
    """Cut the header of a table set out with blanks so that it fits its rows: also at two blanks or more only.

    One word, or two, may stand over a date and a clock.
    """
    wide = [cell for cell in re.split(r"\s{2,}|\t", header.strip()) if cell]
    cut = [row.split() for row in rows]
    for one in (names, wide):
        time = next(
            (place for place, name in enumerate(one) if means(name, "time") or means(name, "date")), 0
        )
        if any(len(row) == len(one) + 1 and _DAY.match(row[time]) and ":" in row[time + 1] for row in cut):
            return [*one[:time], "date", one[time] if means(one[time], "time") else "time", *one[time + 1 :]]
    return next((one for one in (names, wide) if any(len(row) == len(one) for row in cut)), names)


def _over_two_rows(
    lines: Sequence[str], number: int, separator: str, score: float, told: set[str]
) -> tuple[list[str], int]:
    """Return the header and its last row: over two rows where both together name more, as merged cells do.

    ``Position`` may stand over ``Lat`` and ``Lon``, or over the first of them with an empty cell behind it.
    """
    best, last = cells(_without_comment(lines[number]), separator), number
    for upper in (number - 1, number):
        if separator == " " or not 0 <= upper < len(lines) - 1:
            continue
        above, below = (cells(_without_comment(lines[row]), separator) for row in (upper, upper + 1))
        if any(
            _is_number(cell) or sum(map(str.isdigit, cell)) > LOOK.header_digits for cell in above + below
        ):
            continue
        merged, over = [], ""
        for top, cell in zip_longest(above, below, fillvalue=""):
            over = top or over
            joined = f"{over} {cell}".strip()
            # A cell that was merged may end anywhere: what stands behind it goes by its own words first.
            words = (joined, cell) if top else (cell, joined)
            merged.append(next(filter(meaning_of, words), cell or top))
        if (more := _score(merged, told)) > score:
            best, last, score = merged, upper + 1, more
    return best, last


def _may_name_a_position(line: str) -> bool:
    """Ask cheaply whether a line can be a header: every phrase for a position has one of these in it."""
    folded, known = without_accents(line.casefold()), vocabulary().positions
    both = all(any(word in folded for word in known[name]) for name in ("latitude", "longitude"))
    return both or any(part in folded for part in ("posi", "location", "geom", "wkt", *known["coordinates"]))


def _without_comment(line: str) -> str:
    bare = line.strip("\ufeff\r\n")
    stripped = bare.lstrip()
    return stripped.lstrip("#%/'*!").lstrip(" ") if stripped.startswith(_COMMENT) else bare


def _score(headers: list[str], told: set[str]) -> float:
    """Count what a row names; a row that names no position scores nothing unless the person named its cells."""
    if len(headers) < 2:
        return 0.0
    named = sum(1 for header in headers if header.casefold() in told) if told else 0
    meanings = concepts_of(headers)
    lat, lon = meanings & {"lat", "lat_side", "lat_seconds"}, meanings & {"lon", "lon_side"}
    positioned = bool(lat and lon) or "position" in meanings
    if not (positioned or named):
        return 0.0
    return len(meanings) + 2.0 * positioned + 2.0 * named + 0.5 * ("time" in meanings)


def _is_units_row(row: list[str]) -> bool:
    filled = [cell for cell in row if cell]
    marked = sum(is_unit(cell) or is_unit(cell.split()[0]) or _is_pattern(cell) for cell in filled)
    # One column alone may have a unit; a row without a number and with nothing else is no row of data.
    return marked >= max(2, len(filled) // 2) or marked == len(filled) == 1


def _is_pattern(cell: str) -> bool:
    """Units rows describe times as ``hh:mm:ss`` or ``yyyy-mm-dd``."""
    letters = {letter for letter in cell.lower() if letter.isalnum()}
    return bool(letters) and letters <= set("hmsydtzuc") and any(mark in cell for mark in ":-/")


def _is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return False
    return True


def with_row_numbers(layout: Layout, rows: Sequence[Sequence[str]], content: Content) -> Layout:
    """Give rows that begin with their own number, and a header that has no word for it, an empty header there.

    Such rows have a cell too many, and the number under latitude is no latitude with decimals, but the one after it is.
    """
    told = content.options.columns.get("lat")
    lat = next((at for at, name in enumerate(layout.headers) if name == told or means(name, "lat")), None)
    numbered = [row[0].isdigit() and len(row) == len(layout.headers) + 1 for row in rows]
    if (
        lat is None
        or not (rows and all(numbered))
        or any(int(b[0]) - int(a[0]) != 1 for a, b in pairwise(rows))
    ):
        return layout
    if any(_DECIMAL_POINT.fullmatch(row[lat]) or not _DECIMAL_POINT.search(row[lat + 1]) for row in rows):
        return layout
    return replace(layout, headers=("", *layout.headers), units=("", *layout.units))


def with_units(lines: Sequence[str], number: int, separator: str, headers: list[str]) -> Layout:
    """Return the layout of a header; take the units from the row under the header, or from the one above it."""

    def row_at(place: int) -> list[str]:
        return [cell.lstrip("#%").strip() for cell in cells(_without_comment(lines[place]), separator)]

    def holds_no_number(place: int) -> bool:
        return not any(map(_is_number, row_at(place)))

    below = takewhile(
        holds_no_number, range(number + 1, min(number + 1 + LOOK.units_within_lines, len(lines)))
    )
    for place in (*below, *filter(holds_no_number, range(max(number - 1, 0), number))):
        row = row_at(place)
        if abs(len(row) - len(headers)) <= 2 and _is_units_row(row):
            units = (row + [""] * len(headers))[: len(headers)]
            return Layout(separator, tuple(headers), tuple(units), max(number, place) + 1)
    return Layout(separator, tuple(headers), ("",) * len(headers), number + 1)


def _numbered(lines: Sequence[str], content: Content) -> Layout:
    """Read a table without a header where the person numbered its columns."""
    numbers = [value.strip() for value in content.options.columns.values()]
    if numbers and all(map(str.isdigit, numbers)):
        for number, separator in product(range(min(len(lines), LOOK.head_lines)), SEPARATORS):
            row = cells(lines[number], separator)
            if len(row) >= max(map(int, numbers)) and sum(map(_is_number, row)) >= 2:
                headers = tuple(str(place + 1) for place in range(len(row)))
                return Layout(separator, headers, ("",) * len(row), number)
    raise content.refusal(
        "no row names a latitude and a longitude column, so this is not a table the reader knows",
        f"first {min(len(lines), LOOK.head_lines)} lines",
        "say which columns hold what: --columns time=…,lat=…,lon=…,alt=… (headers, or numbers from 1)",
    )


def first_rows(lines: Sequence[str], layout: Layout, *, spread: bool = False) -> list[list[str]]:
    """Cut the first rows into cells, or as many from all of the lines."""
    rows = lines[layout.first_line :]
    some = rows[some_of(len(rows), LOOK.layout_rows)] if spread else rows[: LOOK.layout_rows]
    return [row for line in some if (row := cells(line, layout.separator))]


def decimal_mark(rows: Sequence[Sequence[str]], found: Mapping[int, Meaning]) -> str:
    """Tell the decimal mark by the first rows' cells.

    It is a comma where more cells are a number with one comma and no point than one with a point; else positions with
    letters round their numbers tell. Altitudes such as 3,000 tell nothing: where nothing else does, their mark parts
    the thousands, since no hold is flown below 100 ft.
    """
    marks, inside, apart = Counter[str](), Counter[str](), Counter[str]()
    for place, meaning in found.items():
        kind, unit = meaning.concept.kind, meaning.unit
        high = kind == "length" and (unit is None or unit.factor < LOOK.small_unit_ft)
        position = kind == "angle" and not meaning.concept.channel
        for cell in (row[place] for row in rows if place < len(row)):
            if (mark := _MARK.search(cell)) is not None:
                (apart if high and _THOUSANDS.fullmatch(cell) else marks)[mark[1]] += 1
            elif position and (mark := _MARK_INSIDE.search(cell)) is not None:
                inside[mark[1]] += 1
    for told in (marks, inside):
        if told:
            return "," if told[","] > told["."] else "."
    return "," if apart["."] > apart[","] else "."


def refuse_cut_numbers(
    rows: Sequence[Sequence[str]], layout: Layout, found: Mapping[int, Meaning], lat: int, content: Content
) -> None:
    """Refuse a table whose numbers have commas that part its columns: they would be read cut in two.

    There rows have more cells than the header; and whole degrees stand under latitude, or three digits behind some
    column's one to three.
    """
    if layout.separator != ",":
        return
    rows = [row for row in rows if len(row) > lat]
    wider = [row for row in rows if len([cell for cell in row if cell]) > len(layout.headers)]
    whole = [row for row in wider if _UP_TO_999.fullmatch(row[lat])]
    thousands = len(wider) > LOOK.wider_rows and any(
        all(_UP_TO_999.fullmatch(row[place]) and _THREE_DIGITS.fullmatch(row[place + 1]) for row in wider)
        and (
            any(row[place + 1].startswith("0") for row in wider)
            or (meaning.concept.kind == "length" and all(len(row[place]) < 3 for row in wider))
        )
        for place, meaning in found.items()
        if place < len(layout.headers)
    )
    if len(whole) > LOOK.cut_share * len(rows) or thousands:
        raise content.refusal(
            f"the rows have {len(wider[0])} cells under {len(layout.headers)} headers: commas part the columns "
            f"and {'thousands' if thousands else 'the decimals'} too",
            f"line {layout.first_line + 1}",
            "export it with decimal points and no commas in numbers, or with semicolons between the columns",
        )
