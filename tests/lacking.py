"""What a test does where the machine lacks something: a bare machine skips, the full check must not."""

from __future__ import annotations

import os
from typing import NoReturn

import pytest


def lacking(reason: str) -> NoReturn:
    """Skip the test with a reason; fail it where nothing may be skipped, as ``.ci/run`` asks.

    Parameters
    ----------
    reason : str
        What is missing, and how to get it.
    """
    if os.environ.get("ANALYSER_NOTHING_SKIPPED"):
        pytest.fail(f"nothing may be skipped here, but: {reason}", pytrace=False)
    pytest.skip(reason)
