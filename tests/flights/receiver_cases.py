"""The receivers' set: flights of two other sets, as untidy receivers, feeds and simulators would have written them.

Of the main set, for all that is measured; and of the pilots by how they meet the inbound course, for how well fix and
course are known where nobody gave them, which lies with the pilot as much as with the receiver.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tests.flights.course_pilots import PILOT_KINDS, course_case
from tests.flights.receiver import Receiver
from tests.flights.receiver_faults import Faults
from tests.flights.scenarios import Case, main_case
from tests.flights.students import StudentCase

#: What is done to the logs, by name.
KINDS: Mapping[str, Receiver] = {
    "jitter 0.2 s": Receiver(1.0, faults=Faults(jitter_s=0.2)),
    "jitter 1 s": Receiver(5.0, faults=Faults(jitter_s=1.0)),
    "jitter 3 s": Receiver(10.0, faults=Faults(jitter_s=3.0)),
    "every second row": Receiver(10.0, faults=Faults(rows_s=5.0, jitter_s=1.5)),
    "interpolated": Receiver(15.0, faults=Faults(uneven=0.3, rows_s=3.0, jitter_s=0.5)),
    "made up every second": Receiver(
        8.0, decimals=6, faults=Faults(uneven=0.25, rows_s=1.0, jitter_s=0.3, repeated=0.1)
    ),
    "chords": Receiver(25.0, faults=Faults(uneven=0.25, rows_s=5.0, jitter_s=0.5)),
    "smoothed speeds": Receiver(25.0, faults=Faults(uneven=0.25, rows_s=5.0, smoothed_s=30.0)),
    "filter steps": Receiver(1.0, faults=Faults(filter_s=2.0, filter_reset_s=31.0)),
    "repeated": Receiver(1.0, faults=Faults(repeated=0.4)),
    "whole seconds": Receiver(1.3, faults=Faults(whole_seconds=True)),
    "own speed": Receiver(5.0, faults=Faults(jitter_s=1.5, speed_noise_kt=1.0)),
    "paused": Receiver(1.0),
    "paused, three decimals": Receiver(1.0, decimals=3),
    "accelerated": Receiver(1.0),
    "accelerated, every 5 s": Receiver(5.0, faults=Faults(speed_noise_kt=1.0)),
    "drop-outs": Receiver(1.0),
    "long holes": Receiver(1.0),
    "slips": Receiver(1.0, faults=Faults(lag_s=2.5)),
    "three decimals": Receiver(1.0, decimals=3),
}
#: Each kind is drawn for flights of its own, so many at the most: fix and course lie with the pilot, and the same few
#: pilots seen by every receiver would tell no more than those few.
OWN_FLIGHTS = 48


def receiver_case(kind: str, index: int, seed: int = 0) -> Case:
    """Draw a flight of the main set as one kind of receiver wrote it."""
    case = main_case(_own(kind, index), seed)
    plan = replace(case.plan, name=f"{kind} {index}")
    return replace(
        case, plan=plan, receiver=_receiver(kind, index, np.random.default_rng([seed, 9000 + index]))
    )


def receiver_course_case(kind: str, index: int, seed: int = 0) -> StudentCase:
    """Draw a flight of the pilots by how they meet the course, each kind in turn, as one kind of receiver wrote it."""
    case = course_case(PILOT_KINDS[index % 3], _own(kind, index // 3), seed)
    plan = replace(case.plan, name=f"{kind}, {case.plan.name}")
    return replace(
        case, plan=plan, receiver=_receiver(kind, index, np.random.default_rng([seed, 9500 + index]))
    )


def _own(kind: str, index: int) -> int:
    return OWN_FLIGHTS * list(KINDS).index(kind) + index


def _receiver(kind: str, index: int, rng: np.random.Generator) -> Receiver:
    receiver = KINDS[kind]
    if kind.startswith("paused"):
        instants = rng.uniform(250.0, 450.0), rng.uniform(520.0, 800.0)
        pauses = tuple((float(at), float(rng.uniform(20.0, 90.0))) for at in instants)
        receiver = replace(receiver, faults=Faults(pauses_s=pauses, paused_rows=index % 2 == 0))
    if kind == "drop-outs":
        begins = np.arange(200.0, 2400.0, 110.0) + rng.uniform(0.0, 60.0, 20)
        holes = tuple((float(at), float(at + rng.uniform(12.0, 35.0))) for at in begins)
        receiver = replace(receiver, holes_s=holes)
    if kind == "long holes":
        # About two a lap, in legs and turns as they come.
        begins = 200.0 + np.cumsum(rng.uniform(110.0, 190.0, 16))
        holes = tuple((float(at), float(at + rng.uniform(30.0, 100.0))) for at in begins)
        receiver = replace(receiver, holes_s=holes)
    if kind.startswith("accelerated"):
        start = float(rng.uniform(250.0, 500.0))
        factor = float(rng.choice([2.0, 4.0]))
        lasted = 120.0 * receiver.interval_s**0.5
        faults = replace(receiver.faults, accelerated=((start, start + lasted, factor),))
        receiver = replace(receiver, faults=faults)
    return receiver
