"""The items a hold is graded by, from ``items.toml``: one name, one unit, one rounding and one weight for each.

With them come the sections in which a page shows them.
"""

from __future__ import annotations

from pathlib import Path

from analyser.rules.regime import Sourced
from analyser.rules.toml_data import RuleTable, load


class GradedItem(RuleTable):
    """One graded item, or one that is shown beside them."""

    #: As in the debrief file.
    key: str
    #: For people; the short one heads a narrow column.
    title: str
    short: str
    unit: str
    #: To which its numbers are rounded wherever they are shown.
    decimals: int
    #: What the number is; empty where the title says it.
    meaning: str = ""
    #: What it says minus its target.
    deviation: str = "off target"
    #: Within a circuit, where the scoring sets no other; None carries no points.
    weight: float | None = None
    #: Whether the first circuit, which measures the wind, may miss it.
    measures_wind: bool = False


class PageSection(RuleTable):
    """One folded section of a hold's page; ``printed`` tells whether it is opened on paper."""

    key: str
    title: str
    printed: bool = True


class GradedItems(Sourced):
    """All items, in the order of teaching, and the page's sections in theirs; the source is that of the weights."""

    items: tuple[GradedItem, ...]
    sections: tuple[PageSection, ...]


_READ = load(GradedItems, Path(__file__).parent / "items.toml")

#: By key, in the order of teaching.
ITEMS: dict[str, GradedItem] = {item.key: item for item in _READ.items}
#: In the order of the page.
SECTIONS: tuple[PageSection, ...] = _READ.sections
#: Those that carry points on every circuit.
SCORED: dict[str, float] = {item.key: item.weight for item in _READ.items if item.weight is not None}


def item_of(key: str) -> GradedItem:
    """Return an item by its key; one that a later program added gets plain words made from its key."""
    words = key.replace("_", " ").capitalize()
    return ITEMS.get(key) or GradedItem(key=key, title=words, short=words, unit="", decimals=1)
