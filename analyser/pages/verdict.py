"""The verdict that stands first on the page, in the debrief's own words, and each circuit's advice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from markupsafe import Markup

from analyser.pages.marks import turnable


def verdict_sentences(document: Mapping[str, Any]) -> Markup:
    """Return the verdict in words.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    Markup
        Its directions turn with the page's reference.
    """
    # What is to be worked on first has a line of its own; said twice it would only be longer.
    words = document["verdict"].replace(document["work_on_first"] or "\0", "").strip()
    return turnable(words.replace("  ", " "), document["variation"], _directions(document["advice"]))


def first_thing(document: Mapping[str, Any]) -> Markup | None:
    """Return the one thing to work on first, or None where no fault cost enough to speak of.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    Markup or None
    """
    words = document["work_on_first"]
    return turnable(words, document["variation"], _directions(document["advice"])) if words else None


def circuit_advice(circuit: Mapping[str, Any], variation: float | None) -> list[tuple[str, Markup]]:
    """Return the advice of a circuit, the most costly fault first.

    Parameters
    ----------
    circuit : mapping
        As in the document.
    variation : float or None
        East positive.

    Returns
    -------
    list of (cause, Markup)
    """
    given = [share for share in circuit["error_budget"] if share["advice"]]
    given.sort(key=lambda share: share["rank"])
    return [(share["cause"], turnable(share["advice"], variation, _directions([share]))) for share in given]


def _directions(advised: Iterable[Mapping[str, Any]]) -> list[float]:
    numbers = [one[key] for one in advised for key in ("fly", "flown") if one[key]]
    return [number["value"] for number in numbers if number["reference"] == "true"]
