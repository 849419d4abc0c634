"""The outbound time in words: by the rules' clock, and from wings level where that is another number."""

from __future__ import annotations

from analyser.holds.exact_figures import ExactCircuit


def from_wings_level(exact: ExactCircuit) -> str:
    """Say the exact outbound time from wings level, where it differs from that by the rules' clock.

    Parameters
    ----------
    exact : ExactCircuit

    Returns
    -------
    str
        ``" (61 s from wings level)"``; empty where abeam is not met or both are the same to the second.
    """
    if exact.abeam_after_s is None or round(exact.outbound_timed_s) == round(exact.outbound_time_s):
        return ""
    return f" ({exact.outbound_time_s:.0f} s from wings level)"
