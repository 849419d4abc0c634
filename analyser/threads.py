"""One thread for linear algebra: the matrices of a hold are small, and threads that wait for one another only spin."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

#: What the libraries below numpy and scipy read when they are loaded.
VARIABLES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def use_one_thread() -> None:
    """Ask for one thread, before numpy is imported; what the user has set stands.

    Notes
    -----
    On a busy machine of two cores the wind fit of an hour took up to thirty times its process time with two threads.
    """
    for name in VARIABLES:
        os.environ.setdefault(name, "1")


@contextmanager
def one_thread_for_children() -> Iterator[None]:
    """Ask for one thread in processes begun meanwhile, leaving this one's environment as it was."""
    before = dict(os.environ)
    use_one_thread()
    try:
        yield
    finally:
        for name in VARIABLES:
            if name not in before:
                os.environ.pop(name, None)
