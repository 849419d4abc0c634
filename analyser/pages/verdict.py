"""The verdict that stands first on the page, in the debrief's own words, and each circuit's advice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import hypot
from typing import Any

from markupsafe import Markup

from analyser.pages.findings import cause_words
from analyser.pages.marks import turnable


def verdict_sentences(document: Mapping[str, Any]) -> tuple[Markup, Markup]:
    """Return the verdict in words.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document.

    Returns
    -------
    first, rest : Markup
        The verdict proper, and what else the debrief says of the hold (may be empty). Directions turn with the
        page's reference.
    """
    first, rest = (
        turnable(document["verdict_parts"][part], document["variation"], _spoken_of(document))
        for part in ("first", "rest")
    )
    return first, rest


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
    return turnable(words, document["variation"], _spoken_of(document)) if words else None


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


def no_advice(circuit: Mapping[str, Any]) -> str:
    """Say why a circuit has no advice.

    Parameters
    ----------
    circuit : mapping
        As in the document, without advice.

    Returns
    -------
    str
        Why there is no budget, to follow a colon; else a sentence: nothing cost enough, or what cost most is
        nothing to correct.
    """
    if not circuit["error_budget"]:
        return f"{circuit['error_budget_missing'] or 'too little of this circuit was flown or recorded'}."
    if not any(score["verdict"] == "outside" for score in circuit["scores"].values()):
        return "No fault cost enough to speak of."
    most = max(
        circuit["error_budget"], key=lambda share: hypot(share["cross_track_nm"], share["along_track_nm"])
    )
    moved = hypot(most["cross_track_nm"], most["along_track_nm"])
    return (
        f"No single fault to correct. What moved the roll-out most, by {moved:.2f} NM, was the "
        f"{cause_words(most['cause'])}{_WHY_NOT.get(most['cause'], '')}."
    )


#: Why what cost most is not advised on.
_WHY_NOT = {
    "rollout_heading": ": it was turned towards the course again, as it should be",
    "wind_change": ", which nobody flies",
    "arrival_heading": ", which came from the entry",
}


def _spoken_of(document: Mapping[str, Any]) -> list[float]:
    """Collect the true directions that the findings speak of."""
    return [course for one in document["findings"] for course in one["directions_true"]]


def _directions(advised: Iterable[Mapping[str, Any]]) -> list[float]:
    numbers = [one[key] for one in advised for key in ("fly", "flown") if one[key]]
    return [number["value"] for number in numbers if number["reference"] == "true"]
