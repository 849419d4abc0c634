"""The items a circuit is graded by: one name, one unit and one rounding for each, in the order of teaching."""

from __future__ import annotations

from analyser.frozen import dataclass


@dataclass(frozen=True)
class GradedItem:
    """One graded item, or one that is shown beside them.

    Attributes
    ----------
    key : str
        As in the debrief document.
    title, short : str
        For people; the short one heads a narrow column.
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
    GradedItem("timing", "Leg timing", "Time", "s", 0, "the leg that the rules' clock times"),
    GradedItem("bank", "Bank in the turns", "Bank", "°", 1, "mean bank of the established turns"),
    GradedItem("steadiness", "Steadiness in the turns", "Steady", "°", 1, "how far the bank wandered about its mean"),
    GradedItem("wind_correction", "Wind correction", "Wind", "°", 0, "outbound heading correction for the wind"),
    GradedItem("track", "Inbound track", "Track", "°", 1, "off the inbound course as seen from the fix"),
    GradedItem("altitude", "Altitude", "Alt", "ft", 0, "largest difference from the altitude to hold"),
    GradedItem("speed", "Speed", "Speed", "kt", 0, "largest difference from the speed to hold"),
    GradedItem("inbound_correction", "Inbound correction", "Inbound", "°", 0, "beside the outbound one; no points"),
    GradedItem("angle", "Entry angle", "Angle", "°", 0),
    GradedItem("time", "Entry time", "Time", "s", 0),
    GradedItem("leaving", "Leaving the fix", "Leaving", "s", 0, "late is positive"),
)  # fmt: skip

#: By key, in the order of teaching.
ITEMS: dict[str, GradedItem] = {item.key: item for item in _ALL}


def item_of(key: str) -> GradedItem:
    """Return an item by its key; one that a later program added gets plain words made from its key."""
    words = key.replace("_", " ").capitalize()
    return ITEMS.get(key) or GradedItem(key, words, words, "", 1)
