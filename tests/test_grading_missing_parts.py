"""What the log does not show of a circuit is neither judged nor said, and all the rest still is.

One part after the other is taken away from flights by either rules, with a leg by time or by distance, with a file or
without: what hangs on it is "not judged" with a reason, the file stays valid, and the page reads.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyser.circuits.flown import Circuit, FlownHold
from analyser.grading.judged import JudgedHold
from analyser.holds.definition import LegLimit
from analyser.pages.page import render_page
from analyser.schema.debrief_file import WrittenDebrief
from analyser.summary import summary
from tests.grading_flights import Plan, fly, fly_entry
from tests.test_document_debrief import BADLY, FAA, ICAO, VALIDATOR, debrief_of, written


def _inferred(flown: FlownHold) -> FlownHold:
    return replace(flown, inferred=flown.hold, fix_sd_nm=0.03, course_sd_deg=1.0, inferred_sd=(0.03, 1.0))


FLIGHTS: dict[str, tuple[Callable[[], FlownHold], bool]] = {
    "by time": (lambda: fly(Plan(faults=BADLY)), False),
    "by the FAA, left": (lambda: fly(Plan(side=-1, still_air=False, faults=BADLY)), True),
    "by distance": (lambda: fly(Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0, faults=BADLY[:2])), False),
    "offset entry, inferred": (
        lambda: _inferred(
            fly_entry(Plan(wind_kt=10.0), "offset", arrival_deg=140.0, track_deg=150.0, seconds=60.0)
        ),
        False,
    ),
    "parallel entry": (
        lambda: fly_entry(Plan(wind_kt=10.0), "parallel", arrival_deg=-130.0, track_deg=176.0, seconds=68.0),
        True,
    ),
}
made = {name: cache(make) for name, (make, _) in FLIGHTS.items()}

Loss = Callable[[FlownHold, slice], FlownHold]


def _circuits(change: Callable[[Circuit], Circuit]) -> Loss:
    def lose(flown: FlownHold, which: slice) -> FlownHold:
        circuits = list(flown.circuits)
        circuits[which] = [change(one) for one in circuits[which]]
        return replace(flown, circuits=tuple(circuits))

    return lose


def _without(*parts: str) -> Loss:
    return _circuits(lambda one: replace(one, **dict.fromkeys(parts), complete=False))


def _bank_unknown(one: Circuit) -> Circuit:
    turns = {name: getattr(one, name) for name in ("outbound_turn", "inbound_turn")}
    return replace(
        one, **{name: turn and replace(turn, bank_mean_deg=math.nan) for name, turn in turns.items()}
    )


def _series(**values: float) -> Loss:
    def lose(flown: FlownHold, which: slice) -> FlownHold:
        some = flown.circuits[which]
        inside = flown.motion.span(some[0].start_s, some[-1].end_s)
        changed = {}
        for name, value in values.items():
            series = np.array(getattr(flown.motion, name))
            series[inside] = value
            changed[name] = series
        return replace(flown, motion=replace(flown.motion, **changed))

    return lose


#: Each loss, and the items of the circuits it befalls that nobody can judge then.
LOSSES: dict[str, tuple[Loss, set[str]]] = {
    "the outbound turn": (_without("outbound_turn"), set()),
    "the outbound leg": (_without("outbound_leg", "abeam_s"), {"wind_correction"}),
    "abeam": (_circuits(lambda one: replace(one, abeam_s=None)), set()),
    "the inbound turn": (_without("inbound_turn"), set()),
    "the inbound leg": (_without("inbound_leg"), {"track"}),
    "both turns": (_without("outbound_turn", "inbound_turn"), {"bank", "steadiness", "timing"}),
    "all but the outbound turn": (
        _without("outbound_leg", "abeam_s", "inbound_turn", "inbound_leg"),
        {"wind_correction", "track", "timing"},
    ),
    "every part": (
        _without("outbound_turn", "outbound_leg", "abeam_s", "inbound_turn", "inbound_leg"),
        {"wind_correction", "track", "timing", "bank", "steadiness"},
    ),
    "the bank": (_circuits(_bank_unknown), {"bank", "steadiness"}),
    "the wind": (_circuits(lambda one: replace(one, wind_sd_kt=90.0)), {"wind_correction"}),
    "the airspeed": (_circuits(lambda one: replace(one, tas_sd_kt=90.0)), set()),
    "the height": (_series(altitude_ft=math.nan), {"altitude"}),
    "the indicated airspeed": (_series(ias_kt=math.nan, ias_sd_kt=math.nan), set()),
    "the samples": (_series(in_hole=1.0), {"bank", "steadiness", "track"}),
    "the entry": (lambda flown, which: replace(flown, entry=None), set()),
}


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("loss", LOSSES)
@pytest.mark.parametrize("name", FLIGHTS)
def test_what_is_not_there_is_not_judged_and_the_rest_reads(name: str, loss: str) -> None:
    lose, unjudged = LOSSES[loss]
    every = (list(FLIGHTS).index(name) + list(LOSSES).index(loss)) % 2 == 0
    flown, which = made[name](), slice(None) if every else slice(0, 1)
    lost = lose(flown, which)
    debrief = debrief_of(lost, FAA if FLIGHTS[name][1] else ICAO, leave_at_s=700.0)
    judged = debrief.holds[0].judged
    _hangs_together(judged)
    # A first lap without a leg may be no circuit any more; those that are left are asked.
    befallen = {one.number for one in lost.circuits[which]}
    for one in judged.circuits:
        if one.circuit.number in befallen:
            for item in unjudged & set(one.scores):
                assert one.scores[item].verdict == "not judged", item
    if lost.entry is None:
        assert judged.entry is None
    plain = written(debrief)
    assert not [f"{list(error.absolute_path)}: {error.message}" for error in VALIDATOR.iter_errors(plain)]
    document = WrittenDebrief.from_json(plain)
    page = re.sub(
        r"<script.*?</script>|<style.*?</style>", "", render_page(debrief, document), flags=re.DOTALL
    )
    text = re.sub(r"<[^>]+>", " ", page)
    for said in (text, summary(document, "page.html")):
        assert "None" not in said and not re.search(r"\bnan\b|\binf\b", said)
    assert "raining aid" in text


def _hangs_together(judged: JudgedHold) -> None:
    assert judged.points is None or 0.0 <= judged.points <= 100.0
    for one in judged.circuits:
        for score in one.scores.values():
            assert (score.points is None) == (score.verdict == "not judged")
            assert score.points is None or (0.0 <= score.points <= 100.0 and score.value is not None)
            assert score.points is not None or score.note
    # What lies outside is outside on a circuit where it was judged.
    for found in judged.findings:
        if (
            found.item in {item for one in judged.circuits for item in one.scores}
            and found.severity != "good"
        ):
            assert all(0 < number <= len(judged.flown.circuits) for number in found.circuits)
