"""How tests run: one thread for linear algebra in each process, and how property tests draw examples.

The tests use all cores already, and small matrices gain nothing from threads. Garbage is looked for as rarely as in the
program, which saves a tenth of the time.

At a desk they search: other examples on every run. Where a change is judged (``--hypothesis-profile judging``) they
draw the same ones each time, so that what fails there is the change's own doing. Neither traces which lines a failing
example ran through: that costs every passing one more than half of its time. Nor has an example a time of its own to
keep to: on a busy machine that fails what is right.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import Phase, settings

from analyser.process_settings import collect_rarely, use_one_thread

use_one_thread()
collect_rarely()

#: What takes longest of all files is begun first: left to the end, one process would run it while the others wait.
_BEGUN_FIRST = (
    *("statements", "truth_each_flight", "examiner"),
    *("truth_receivers", "logs_hostile", "pages_screens", "logbook_term", "pages_browser"),
    *("grading_next_time", "logbook_commands", "logbook_safety", "airspace_area", "document_debrief"),
    *("rules_every_key", "truth_generated", "truth_jsbsim", "truth_properties", "truth_worst_logs"),
    *("work_cluster", "logbook_browser", "logs_mutations", "circuits_given", "cli_debrief", "logbook_book"),
)

_PHASES = [phase for phase in Phase if phase is not Phase.explain]

settings.register_profile("searching", phases=_PHASES, deadline=None)
settings.register_profile("judging", phases=_PHASES, derandomize=True, database=None, deadline=None)
settings.load_profile("searching")

# No test finds the collection of holds, or the logbook, of whoever runs it.
os.environ["ANALYSER_DATA"] = os.devnull


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files; each stays together, in its own order."""
    place = {f"test_{name}": number for number, name in enumerate(_BEGUN_FIRST)}
    items.sort(key=lambda item: place.get(item.path.stem, len(place)))


def pytest_collection_finish() -> None:
    """Look no more for garbage in what was loaded to collect the tests: it stays to the end."""
    gc.freeze()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A browser for all tests of a module."""
    from tests.pages_browser import browser

    with browser() as started:
        yield started


@pytest.fixture
def program() -> Callable[..., tuple[int, str, str]]:
    """Run the command line within the test; return its status and what it said on both streams."""

    from tests.program import run

    def run_words(*words: object) -> tuple[int, str, str]:
        ended = run(*words)
        return ended.returncode, ended.stdout, ended.stderr

    return run_words
