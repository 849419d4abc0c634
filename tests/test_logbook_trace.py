"""The path that the logbook keeps beside a debrief: thin, whole, and in the fix's own map."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from analyser.logbook.book import Logbook
from analyser.logbook.classes import compare
from analyser.logbook.progress import progress_of
from analyser.logbook.sessions import Trace
from analyser.logbook.trace import FLIGHT_STEP_S, STEP_S, trace_of
from analyser.pages.compare import compare_page
from analyser.pages.pilot_pages import progress_page
from analyser.rules.scales import load_scale
from tests.pages_fixture import debriefed


def test_the_path_runs_from_arrival_to_the_last_passage_of_the_fix() -> None:
    made, _ = debriefed(holds=2, given=False)
    traces = trace_of(made).holds
    assert len(traces) == len(made.holds) == 2
    for trace, hold in zip(traces, made.holds, strict=True):
        path, flown = np.array(trace), hold.flown
        assert path[0, 0] == pytest.approx(flown.start_s, abs=1.1)
        assert path[-1, 0] == pytest.approx(flown.end_s, abs=1.1)
        steps = np.diff(path[:, 0])
        assert steps.min() > 0.0 and steps.max() <= 2 * STEP_S
        # In the fix's own map the flight begins and ends at the fix, and agrees with the motion throughout.
        assert np.hypot(*path[0, 1:]) < 0.5 and np.hypot(*path[-1, 1:]) < 0.5
        east = np.interp(path[:, 0], flown.motion.time_s, flown.motion.east_nm)
        assert np.abs(path[:, 1] - east).max() < 0.003
        assert path.size < 0.5 * 3 * flown.motion.time_s.size


def test_the_whole_flight_is_kept_at_instants_that_other_recordings_share() -> None:
    made, _ = debriefed(holds=2, given=False)
    path, track = np.array(trace_of(made).flight), made.track
    assert (path[0, 0], path[-1, 0]) == (track.time_s[0], pytest.approx(track.time_s[-1], abs=0.06))
    assert track.start_utc is not None
    inner = (track.start_utc.timestamp() + path[1:-1, 0]) % FLIGHT_STEP_S
    assert np.abs(inner).max() < 1e-3 and (np.diff(path[:, 0]) > 0).all()
    assert np.abs(path[:, 1] - np.interp(path[:, 0], track.time_s, track.lat_deg)).max() < 1e-5


def test_a_real_debrief_goes_the_whole_way_to_both_pages(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        for pilot in ("Ada Vane", "Bo Lund"):
            made, document = debriefed(holds=1)
            # Another flight, so another path; the hold's own is what is looked at here.
            document["log"]["sha256"] = ("a" if pilot == "Ada Vane" else "b") * 64
            book.record(document, pilot=pilot, trace=Trace(trace_of(made).holds))
        sessions = book.sessions()
    page = progress_page(progress_of("Ada Vane", sessions, scale=load_scale(), on=date(2026, 4, 1)))
    assert 'class="fig fig-overlay"' in page and "Wind correction" in page
    assert "<b>dashed</b> the first circuit there (" in page
    found = compare(sessions, load_scale())
    assert len(found.exercises) == 1 and len(found.exercises[0][1]) == 2
    assert compare_page(found, scale=load_scale()).count('class="fig fig-thumb"') == 2
