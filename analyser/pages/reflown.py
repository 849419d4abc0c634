"""The circuits flown again with a fault corrected, as the debrief computed them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from analyser.pages.captions import cause_words
from analyser.pages.figures.plan import Path


@dataclass(frozen=True)
class ReflownChoice:
    """One way to fly a circuit again: the fault's key and what the reader ticks."""

    cause: str
    words: str


def reflown_paths(document: Mapping[str, Any]) -> dict[tuple[int, str], Path]:
    """Take the re-flown paths from the hold's document.

    Parameters
    ----------
    document : mapping
        The hold's part of the debrief document; a circuit's ``reflown`` lists ``cause``, ``east_nm``, ``north_nm``.

    Returns
    -------
    dict of (circuit number, cause) to (east_nm, north_nm)
    """
    return {
        (circuit["number"], way["cause"]): (
            np.asarray(way["east_nm"], float),
            np.asarray(way["north_nm"], float),
        )
        for circuit in document["circuits"]
        for way in circuit.get("reflown") or []
    }


def reflown_choices(document: Mapping[str, Any]) -> dict[int, list[ReflownChoice]]:
    """Return what the reader can tick for each circuit."""
    return {
        circuit["number"]: [
            ReflownChoice(way["cause"], _words(way["cause"])) for way in circuit.get("reflown") or []
        ]
        for circuit in document["circuits"]
    }


def _words(cause: str) -> str:
    return "all of them" if cause == "all" else cause_words(cause)
