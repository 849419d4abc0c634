"""The graded items of a hold: their keys in a debrief document, their words and their units."""

from __future__ import annotations

from collections.abc import Iterable

from analyser.frozen import dataclass
from analyser.rules.graded_items import item_of


@dataclass(frozen=True)
class Item:
    """One thing that is judged.

    ``key`` is that of the debrief document's ``scores``, or ``"entry"``; ``unit`` that of the raw measure, as printed;
    ``deviation`` is what the raw measure minus its target says.
    """

    key: str
    title: str
    unit: str
    deviation: str


ENTRY = "entry"
OVERALL = "overall"

#: What the raw measure minus its target says, for each graded item.
_DEVIATIONS = {
    "timing": "leg too long (+) or too short (−)",
    "bank": "too steep (+) or too shallow (−)",
    "steadiness": "how far the bank wandered",
    "wind_correction": "outbound correction against the exact one",
    "track": "off the inbound course",
    "altitude": "high (+) or low (−)",
    "speed": "fast (+) or slow (−)",
}

ITEMS: tuple[Item, ...] = (
    Item(ENTRY, "Entry", "points", "right sector or not"),
    *(Item(key, item_of(key).title, item_of(key).unit, said) for key, said in _DEVIATIONS.items()),
)

_BY_KEY = {item.key: item for item in ITEMS}


def item(key: str) -> Item:
    """Return an item by its key; one that a later program added gets plain words made from its key."""
    return _BY_KEY.get(key) or Item(key, key.replace("_", " ").capitalize(), "", "off target")


def in_order(keys: Iterable[str]) -> list[str]:
    """Sort item keys as an instructor goes through a hold, unknown ones last."""
    places = {one.key: place for place, one in enumerate(ITEMS)}
    return sorted(set(keys), key=lambda key: (places.get(key, len(places)), key))


def title_of(key: str) -> str:
    """Return an item's title; ``"all"`` and ``"overall"`` have theirs too."""
    return {"all": "All items", OVERALL: "Overall"}.get(key) or item(key).title
