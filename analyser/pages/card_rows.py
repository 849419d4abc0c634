"""What the kneeboard card says, as rows: the terminal and the page print the same ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field

from analyser.frozen import dataclass

#: Said on every card.
CAUTION = (
    "Training aid: not for navigation, not for obstacle clearance. The AIP, air traffic control, the "
    "aircraft's manual and a qualified instructor decide."
)


@dataclass(frozen=True)
class Row:
    """One line of the card.

    Attributes
    ----------
    label, value : str
    rules : tuple of str
        What the numbers rest on.
    detail : str
        What goes with the value, in smaller type.
    main : bool
        One of the few figures that are flown.
    """

    label: str
    value: str
    rules: tuple[str, ...] = ()
    detail: str = ""
    main: bool = False


@dataclass(frozen=True)
class Table:
    """A table of the card: a header row and rows of as many cells."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    rules: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Card:
    """The whole card.

    Attributes
    ----------
    title : str
        Untrusted text may be in it: escape it.
    warnings : tuple of str
        What stands above everything else.
    hold, circuit : tuple of Row
    entry : Table or None
    winds, leaving, turn_in, thumbs : Table or None
    short : tuple of Table
        Other winds and rules of thumb in as little room as A6 has.
    level : tuple of str
        What is said of the minimum holding level over obstacles, its caution last; empty without obstacles.
    caution : str
    rules : tuple of str
        All that is named, in order: the number beside a figure is its place here, from 1.
    """

    title: str
    warnings: tuple[str, ...]
    hold: tuple[Row, ...]
    circuit: tuple[Row, ...]
    entry: Table
    winds: Table | None
    leaving: Table | None
    turn_in: Table | None
    thumbs: Table | None
    caution: str = CAUTION
    short: tuple[Table, ...] = ()
    level: tuple[str, ...] = ()
    rules: tuple[str, ...] = field(default=())

    @property
    def tables(self) -> tuple[Table, ...]:
        """The tables that there are."""
        every = (self.entry, self.winds, self.leaving, self.turn_in, self.thumbs)
        return tuple(table for table in every if table is not None)

    def marks(self, rules: tuple[str, ...]) -> str:
        """Write the numbers of some rules: ``"1, 3"``."""
        return ", ".join(str(self.rules.index(rule) + 1) for rule in rules)


def lines(card: Card) -> Iterator[str]:
    """Write a card as plain lines for the terminal."""
    yield card.title
    for warning in card.warnings:
        yield f"! {warning}"
    for rows in (card.hold, card.circuit):
        if rows:
            yield ""
        for row in rows:
            mark = f" [{card.marks(row.rules)}]" if row.rules else ""
            detail = f", {row.detail}" if row.detail else ""
            yield f"{row.label:<17} {row.value}{detail}{mark}"
    for table in card.tables:
        yield ""
        yield f"{table.title} [{card.marks(table.rules)}]"
        yield from _columns(table)
        if table.note:
            yield f"  {table.note}"
    if card.level:
        yield ""
        yield "Lowest level over the obstacles"
        yield from (f"  {line}" for line in card.level)
    yield ""
    yield from (f"[{number}] {rule}" for number, rule in enumerate(card.rules, start=1))
    yield ""
    yield card.caution


def _columns(table: Table) -> Iterator[str]:
    rows = (table.head, *table.rows)
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.head))]
    for row in rows:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        yield "  " + "  ".join(cells).rstrip()
