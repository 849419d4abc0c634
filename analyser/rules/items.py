"""The items a circuit is graded by: one name, one unit and one rounding for each, in the order of teaching."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Item:
    """One graded item, or one that is shown beside them.

    Attributes
    ----------
    key : str
        As in the debrief document.
    title, short : str
        For people; the short one heads a narrow column.
    unit : str
    decimals : int
        To which its numbers are rounded wherever they are shown.
    meaning : str
        What the number is; empty where the title says it.
    """

    key: str
    title: str
    short: str
    unit: str
    decimals: int
    meaning: str = ""


_ALL = (
    Item("timing", "Leg timing", "Time", "s", 0, "the leg that the rules' clock times"),
    Item("bank", "Bank in the turns", "Bank", "°", 1, "mean bank of the established turns"),
    Item("steadiness", "Steadiness in the turns", "Steady", "°", 1, "how far the bank wandered about its mean"),
    Item("wind_correction", "Wind correction", "Wind", "°", 0, "outbound heading correction for the wind"),
    Item("track", "Inbound track", "Track", "°", 1, "off the inbound course as seen from the fix"),
    Item("altitude", "Altitude", "Alt", "ft", 0, "farthest from the altitude to hold"),
    Item("speed", "Speed", "Speed", "kt", 0, "farthest from the speed to hold"),
    Item("inbound_correction", "Inbound correction", "Inbound", "°", 0, "shown beside the outbound one; no points"),
    Item("angle", "Entry angle", "Angle", "°", 0),
    Item("time", "Entry time", "Time", "s", 0),
    Item("leaving", "Leaving the fix", "Leaving", "s", 0, "late is positive"),
)  # fmt: skip

#: By key, in the order of teaching.
ITEMS: dict[str, Item] = {item.key: item for item in _ALL}


def item_of(key: str) -> Item:
    """Return an item by its key; one that a later program added gets plain words made from its key."""
    words = key.replace("_", " ").capitalize()
    return ITEMS.get(key) or Item(key, words, words, "", 1)
