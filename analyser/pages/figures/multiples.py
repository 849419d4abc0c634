"""Small multiples: every circuit on its own, all on one scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from analyser.pages.figures import symbols
from analyser.pages.figures.sheet import Sheet
from analyser.pages.phases import PHASES, Span
from analyser.pages.series import HoldSeries

FloatArray = NDArray[np.float64]


def multiples(
    series: HoldSeries,
    spans: Sequence[Span],
    ideal: Mapping[int, tuple[FloatArray, FloatArray]],
    reflown: Mapping[tuple[int, str], tuple[FloatArray, FloatArray]],
) -> dict[int, Sheet]:
    """Draw each circuit over its exact one.

    Parameters
    ----------
    series : HoldSeries
    spans : sequence of Span
    ideal : mapping of circuit number to (east_nm, north_nm)
    reflown : mapping of (circuit number, cause) to (east_nm, north_nm)
        Drawn, but shown only when the reader asks for it.

    Returns
    -------
    mapping of circuit number to Sheet
        All sheets have one window.
    """
    numbers = sorted({span.circuit for span in spans if span.circuit})
    parts = [series.within(s.start_s, s.end_s) for s in spans if s.circuit]
    east = np.concatenate(
        [*(series.east_nm[part] for part in parts), *(path[0] for path in ideal.values()), [0.0]]
    )
    north = np.concatenate(
        [*(series.north_nm[part] for part in parts), *(path[1] for path in ideal.values()), [0.0]]
    )
    size = 1.12 * max(float(np.ptp(east)), 1.25 * float(np.ptp(north)))
    middle = (float(east.max() + east.min()) / 2, float(north.max() + north.min()) / 2)
    window = (middle[0] - size / 2, middle[0] + size / 2, middle[1] - 0.4 * size, middle[1] + 0.4 * size)
    sheets = {}
    for which in numbers:
        sheet = Sheet(220.0, 176.0, window)
        if which in ideal:
            sheet.line(*ideal[which], "band", 5.0, layer="ideal")
            sheet.line(*ideal[which], "pencil", 1.0, (2.0, 2.4), layer="ideal")
        for span in spans:
            if span.circuit == which:
                _, _, ink, width, dash, _ = PHASES[span.phase]
                part = series.within(span.start_s, span.end_s)
                sheet.line(series.east_nm[part], series.north_nm[part], ink, 0.8 * width, dash, layer="flown")
        for (circuit, cause), path in reflown.items():
            if circuit == which:
                sheet.line(
                    *path, "ghost", 2.0, (6.0, 2.0, 1.5, 2.0), layer="reflown", circuit=which, cause=cause
                )
        symbols.fix(sheet)
        sheets[which] = sheet
    return sheets
