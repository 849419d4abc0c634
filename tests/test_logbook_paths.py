"""To the edge: which recordings are one flight, and how finely a path is kept."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyser.logbook.sessions import Trace
from analyser.logbook.trace import relation, trace_of
from tests.test_logbook_same_flight import at, flight


def moved(trace: Trace, share: float, north_nm: float) -> Trace:
    """The same recording, of which a share of the places, spread over all of it, lies elsewhere."""
    return Trace(
        [],
        [
            [t, lat + (north_nm / 60.0 if int(n * share) > int((n - 1) * share) else 0.0), lon]
            for n, (t, lat, lon) in enumerate(trace.flight)
        ],
    )


def straight(east_nm: float, north_nm: float, *, lat: float = 60.0) -> Trace:
    """A quarter of an hour along a line; at 60° north a degree of longitude is half as long."""
    shares = np.linspace(0.0, 1.0, 91)
    return Trace([], [[900.0 * s, lat + north_nm / 60.0 * s, 8.0 + 2.0 * east_nm / 60.0 * s] for s in shares])


@pytest.mark.parametrize(
    ("new", "start_s", "kept", "same"),
    [
        # Two receivers in one cockpit are within a twentieth of a mile, nine times of ten.
        (flight(east_nm=0.045), 0, flight(), True),
        (flight(east_nm=0.06), 0, flight(), False),
        (moved(flight(), 0.08, 1.0), 0, flight(), True),
        (moved(flight(), 0.12, 1.0), 0, flight(), False),
        # Nine tenths of the shorter one's time lie within the other.
        (flight(begins_s=80.0), 80, flight(), True),
        (flight(begins_s=100.0), 100, flight(), False),
        (flight(300.0, begins_s=620.0), 620, flight(), True),
        (flight(300.0, begins_s=640.0), 640, flight(), False),
        # A minute in common, at three instants at least.
        (flight(64.0, step_s=2.0), 0, flight(64.0, step_s=2.0), True),
        (flight(58.0, step_s=2.0), 0, flight(58.0, step_s=2.0), False),
        (flight(64.0, step_s=32.0), 0, flight(step_s=1.0), True),
        (flight(64.0, step_s=64.0), 0, flight(step_s=1.0), False),
        # Three tenths of a mile were flown, whichever way.
        *((straight(nm * east, nm * north), 0, straight(nm * east, nm * north), same)
          for nm, same in ((0.33, True), (0.27, False)) for east, north in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0))),
    ],
)  # fmt: skip
def test_one_flight_to_the_edge(new: Trace, start_s: float, kept: Trace, same: bool) -> None:
    for one, other in (((new, at(start_s)), (kept, at(0))), ((kept, at(0)), (new, at(start_s)))):
        assert (relation(*one, *other) is not None) == same


def debriefed(time_s: np.ndarray, *, start_utc: datetime | None = None) -> Any:
    """What of a debrief a path is taken from: a flight that climbs along the meridian, with a hold in its middle."""
    motion = SimpleNamespace(time_s=time_s, east_nm=time_s / 7000.0, north_nm=-time_s / 9000.0)
    flown = SimpleNamespace(motion=motion, start_s=float(time_s[5]), end_s=float(time_s[-5]))
    track = SimpleNamespace(
        time_s=time_s,
        lat_deg=47.0 + time_s * 1e-5,
        lon_deg=np.full(time_s.size, -179.999),
        start_utc=start_utc,
    )
    return SimpleNamespace(holds=[SimpleNamespace(flown=flown)], track=track)


@pytest.mark.parametrize(("interval_s", "step_s"), [(1.0, 3.0), (2.0, 3.0), (5.0, 5.0), (0.1, 3.0)])
def test_a_holds_path_has_a_point_every_three_seconds_or_each_sample(
    interval_s: float, step_s: float
) -> None:
    time_s = 40.0 + np.arange(0.0, 301.0, interval_s)
    (path,) = (np.array(one) for one in trace_of(debriefed(time_s)).holds)
    assert (path[0, 0], path[-1, 0]) == pytest.approx((time_s[5], time_s[-5]), abs=0.051)
    assert np.mean(np.diff(path[:-1, 0])) == pytest.approx(step_s, abs=0.05)
    # A tenth of a second; two metres.
    assert path[:, 0] == pytest.approx(np.round(path[:, 0], 1), abs=1e-9)
    assert path[:, 1] == pytest.approx(path[:, 0] / 7000.0, abs=0.00052)
    assert path[:, 2] == pytest.approx(-path[:, 0] / 9000.0, abs=0.00052)
    assert path[:, 1:] == pytest.approx(np.round(path[:, 1:], 3), abs=1e-9)


@pytest.mark.parametrize(("hours", "step_s"), [(1.0, 10.0), (1.9, 10.0), (2.1, 20.0), (24.0, 120.0)])
def test_of_a_long_day_no_more_than_720_places_are_kept_at_instants_of_the_clock(
    hours: float, step_s: float
) -> None:
    begun = datetime(2026, 3, 14, 17, 5, 3, 400000, tzinfo=UTC)
    time_s = 2.0 + np.arange(0.0, 3600.0 * hours, 1.0)
    path = np.array(trace_of(debriefed(time_s, start_utc=begun)).flight)
    assert len(path) <= 722 and (path[0, 0], path[-1, 0]) == (time_s[0], time_s[-1])
    assert np.diff(path[1:-1, 0]) == pytest.approx(step_s)
    clock = [(begun + timedelta(seconds=float(one))).timestamp() % step_s for one in path[1:-1, 0]]
    assert np.minimum(clock, step_s - np.array(clock)) == pytest.approx(0.0, abs=1e-3)
    # From the first sample on: the first of these instants is no more than a step away.
    assert 0.0 < path[1, 0] - path[0, 0] <= step_s and 0.0 < path[-1, 0] - path[-2, 0] <= step_s
    # A metre.
    assert path[:, 1] == pytest.approx(47.0 + path[:, 0] * 1e-5, abs=0.0000052)
    assert path[:, 1:] == pytest.approx(np.round(path[:, 1:], 5), abs=1e-9)
    assert path[:, 2] == pytest.approx(-179.999)


def test_without_a_date_instants_count_from_the_logs_own_first_sample() -> None:
    path = np.array(trace_of(debriefed(np.arange(3.0, 100.0))).flight)
    assert path[:, 0] == pytest.approx([3.0, *range(10, 100, 10), 99.0])
