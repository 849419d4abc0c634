"""What the page's script needs to replay a hold, as small as it can be said."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from analyser.pages.pictures import Picture
from analyser.pages.subject import PHASES, FloatArray, Subject

#: The characters that series are written in: printable, and none that JSON or HTML would have to escape.
CODE = "".join(character for character in map(chr, range(35, 127)) if character not in "&<>\\'")[:86]


def replay(subject: Subject, pictures: dict[str, Picture], circuit: int | None) -> dict[str, Any]:
    """Put together one hold's replay data as JSON has it; ``null`` where a value is not known.

    Sums and turns of what is there already (the air-mass view, along and across the course) are left to the script.
    ``pictures`` are those that carry a cursor; the maps show ``circuit`` at first, all where it is None.
    """
    series, flown = subject.series, subject.flown
    no_ias = bool(np.isnan(series.ias_kt).all())
    # As finely as they are shown: in figures, or as a cursor on a strip.
    columns = {
        "t": (series.time_s, 1), "e": (series.east_nm, 3), "n": (series.north_nm, 3),
        "fe": (series.drift_east_nm, 3), "fn": (series.drift_north_nm, 3), "alt": (series.altitude_ft, 0),
        "ias": (series.ias_kt, 1), "tas": (series.tas_kt, 1 if no_ias else 0), "gs": (series.ground_speed_kt, 0),
        "hdg": (series.heading_deg, 0), "bank": (series.bank_deg, 1),
    }  # fmt: skip
    return {
        "columns": {name: packed(values, decimals) for name, (values, decimals) in columns.items()},
        "spans": [
            [
                PHASES[span.phase].code,
                span.circuit,
                round(span.start_s, 1),
                round(span.end_s, 1),
                round(span.clock_s, 1),
            ]
            for span in subject.spans
        ],
        "window": [round(edge, 1) for edge in subject.window_s],
        "start": round(flown.start_s, 1),
        "seams": [round(seam_s, 1) for seam_s in series.seams_s],
        "shown": circuit,
        "course": round(flown.hold.inbound_course_true_deg, 3),
        "variation": subject.variation,
        "maps": {name: found.mapping for name, found in pictures.items()},
    }


def phase_words() -> dict[str, list[str]]:
    """Return the phases' words by their short codes: the phase, and what its clock counts."""
    return {phase.code: [phase.words, phase.counts] for phase in PHASES.values()}


def packed(values: FloatArray, decimals: int) -> list[Any]:
    """Write a series, NaN where nothing is known, as whole numbers so small that they take few characters.

    It is ``[decimals, order, length, numbers]``: ``numbers`` counts in the last decimal and was differenced ``order``
    times: 0 where the series has gaps, else whichever of 0, 1 and 2 is shortest. Noughts at its end are left out. It
    is written in the characters of `CODE`, nearly always one a number: 0, −1, 1, −2 … stand for 0, 1, 2, 3 …, in
    digits to the base of half the code, the lowest first; all but the last digit are taken from the code's second
    half. A gap is a space. The page's script reads it back.
    """
    scaled = np.round(np.asarray(values, float) * 10.0**decimals)
    missing = np.isnan(scaled)
    whole = np.where(missing, 0.0, scaled).astype(np.int64)
    if missing.any():
        written = zip(whole.tolist(), missing.tolist(), strict=True)
        return [decimals, 0, len(whole), "".join(" " if gap else _coded(value) for value, gap in written)]
    best, order = whole, 0
    differences = whole
    for tried in (1, 2):
        differences = np.diff(differences, prepend=0)
        if np.abs(differences).sum() < np.abs(best).sum():
            best, order = differences, tried
    return [decimals, order, len(whole), "".join(map(_coded, np.trim_zeros(best, "b").tolist()))]


@lru_cache(maxsize=1 << 14)
def _coded(value: int) -> str:
    base = len(CODE) // 2
    left = 2 * value if value >= 0 else -2 * value - 1
    digits = ""
    while left >= base:
        left, digit = divmod(left, base)
        digits += CODE[base + digit]
    return digits + CODE[left]
