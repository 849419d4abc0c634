"""The debrief file: every promised key, null where unknown, valid against the published schema."""

import copy
import json
import math
import random
import re
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from functools import cache

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.debrief import Debrief, HoldDebrief, hold_variation_deg
from analyser.document import document
from analyser.grading.judge import judge_hold
from analyser.holds.definition import LegLimit
from analyser.logs.track import Notice, Track
from analyser.rules.load import load_regime, load_standard
from analyser.schema import load_schema
from analyser.schema.debrief_file import WrittenDebrief, WrittenLeg
from tests.grading_flights import Faults, Plan, fly, fly_entry

ICAO, FAA = load_regime("icao"), load_regime("faa")
ACS = load_standard("acs-instrument")
VALIDATOR = jsonschema.Draft202012Validator(load_schema(), format_checker=jsonschema.FormatChecker())
BADLY = (Faults(outbound_heading_deg=-18.0), Faults(outbound_time_s=14.0, inbound_bank_deg=-3.0), Faults())


def track_of(motion, start=datetime(2026, 3, 14, 17, 5, tzinfo=UTC)):
    lat, lon = motion.plane.to_earth(motion.east_nm, motion.north_nm)
    channels = {
        "altitude_ft": motion.altitude_ft,
        "bank_deg": motion.bank_deg,
        "pitch_deg": motion.bank_deg * math.nan,
    }
    notice = Notice("time-duplicate", "two samples had one time")
    return Track("evening <b>.gpx", "gpx", "ab" * 32, motion.time_s, lat, lon, channels, start, (notice,))


def debrief_of(flown, regime=ICAO, start=datetime(2026, 3, 14, 17, 5, tzinfo=UTC), **leaving):
    track = track_of(flown.motion, start)
    judged = judge_hold(flown, regime, ACS, variation_deg=hold_variation_deg(track, flown), **leaving)
    return Debrief(track, (HoldDebrief(flown, judged),), None, regime, ACS)


def written(debrief):
    """As it comes back from the file; NaN is refused on the way."""
    return json.loads(json.dumps(document(debrief), allow_nan=False))


def blind(flown):
    """The same flight with as good as nothing known of it."""
    nothing = np.full(flown.motion.time_s.size, math.nan)
    motion = replace(flown.motion, altitude_ft=nothing, ias_kt=nothing, ias_sd_kt=nothing)
    broken = replace(
        flown.circuits[0],
        inbound_turn=None,
        inbound_leg=None,
        abeam_s=None,
        complete=False,
        wind_sd_kt=math.inf,
        tas_sd_kt=math.nan,
    )
    bare = replace(broken, number=2, outbound_turn=None, outbound_leg=None)
    hold = replace(flown.hold, leg=None, altitude_ft=None)
    return replace(flown, motion=motion, entry=None, circuits=(broken, bare), hold=hold)


CASES = {
    "flown badly": lambda: debrief_of(fly(Plan(faults=BADLY))),
    "by the FAA, left hand, leaving late": lambda: debrief_of(
        fly(Plan(side=-1, still_air=False, faults=BADLY)), FAA, leave_at_s=700.0
    ),
    "a leg by distance": lambda: debrief_of(fly(Plan(leg=LegLimit(distance_nm=4.0), tas_kt=150.0))),
    "an offset entry": lambda: debrief_of(
        fly_entry(Plan(wind_kt=10.0), "offset", arrival_deg=140.0, track_deg=150.0, seconds=60.0)
    ),
    "no date": lambda: debrief_of(fly(Plan()), start=None),
    "as good as nothing known": lambda: debrief_of(blind(fly(Plan())), start=None, leave_at_s=600.0),
    "wind too strong": lambda: debrief_of(
        replace(fly(Plan()), circuits=(replace(fly(Plan()).circuits[0], wind_east_kt=150.0),))
    ),
    "no circuit": lambda: debrief_of(replace(fly(Plan()), circuits=())),
    "no hold": lambda: Debrief(track_of(fly(Plan()).motion), (), "one turn of 180° only", ICAO, ACS),
}


@pytest.mark.parametrize("case", CASES)
def test_what_is_written_is_valid_against_the_published_schema(case):
    errors = [
        f"{list(error.absolute_path)}: {error.message}"
        for error in VALIDATOR.iter_errors(written(CASES[case]()))
    ]
    assert not errors


def test_the_schema_itself_is_valid_and_strict():
    jsonschema.Draft202012Validator.check_schema(load_schema())
    good = written(CASES["flown badly"]())
    for path, value in (
        (("holds", 0, "circuits", 0, "points"), 101.0),
        (("holds", 0, "inbound_course_true"), 360.0),
        (("holds", 0, "turns"), "up"),
        (("log", "sha256"), "xyz"),
        (("holds", 0, "entry", "verdict"), "perhaps"),
        (("holds", 0, "circuits", 0, "scores", "bank", "verdict"), "fine"),
        (("schema",), 3),
    ):
        bad = copy.deepcopy(good)
        inner = bad
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value
        assert not VALIDATOR.is_valid(bad), path
    for path in (
        ("log", "start_utc"),
        ("holds", 0, "wind", "sd_kt"),
        ("holds", 0, "circuits", 0, "inbound_leg", "duration_s"),
    ):
        bad = copy.deepcopy(good)
        inner = bad
        for key in path[:-1]:
            inner = inner[key]
        del inner[path[-1]]
        assert not VALIDATOR.is_valid(bad), path


def test_further_keys_are_welcome():
    more = written(CASES["flown badly"]())
    more["holds"][0]["circuits"][0]["mood"] = "calm"
    assert VALIDATOR.is_valid(more)


#: The keys that other programs rely on, written down by hand from the promise to the outside.
TURN = {"start_s", "end_s", "bank_mean", "bank_max", "rate_mean"}
PROMISED = {
    "": {"schema", "log", "holds"},
    "log": {
        "name", "format", "sha256", "samples", "duration_s", "interval_s", "start_utc", "channels", "notices",
    },
    "holds.0": {
        "definition", "name", "fix", "inbound_course_true", "inbound_course_magnetic", "variation", "turns", "leg",
        "rules", "start_s", "end_s", "wind", "tas_kt", "tas_sd_kt", "altitude_ft", "entry", "circuits", "points",
        "grade",
    },
    "holds.0.fix": {"lat", "lon", "sd_nm"},
    "holds.0.leg": {"minutes"},
    "holds.0.wind": {"from_true", "speed_kt", "east_kt", "north_kt", "sd_kt", "source"},
    "holds.0.entry": {"fix_s", "arrival_heading_true", "sectors_allowed", "flown", "verdict"},
    "holds.0.circuits.0": {
        "number", "start_s", "end_s", "complete", "outbound_turn", "outbound_leg", "inbound_turn", "inbound_leg",
        "fix_miss_nm", "altitude_error_max_ft", "speed_error_max_kt", "wind", "error_budget", "scores", "points",
    },
    "holds.0.circuits.0.outbound_turn": TURN,
    "holds.0.circuits.0.outbound_leg": {
        "start_s", "end_s", "abeam_s", "timed_s", "heading_true", "track_true", "ideal_heading_true", "ideal_timed_s",
    },
    "holds.0.circuits.0.inbound_turn": TURN | {"rollout_cross_track_nm"},
    "holds.0.circuits.0.inbound_leg": {
        "start_s", "end_s", "duration_s", "ideal_duration_s", "cross_track_rms_nm", "cross_track_max_nm",
        "heading_true",
    },
    "holds.0.circuits.0.wind": {"east_kt", "north_kt", "sd_kt"},
    "holds.0.circuits.0.error_budget.0": {"cause", "cross_track_nm", "along_track_nm", "advice"},
    "holds.0.circuits.0.scores": {"timing", "bank", "wind_correction", "track", "altitude", "speed"},
    "holds.0.circuits.0.scores.timing": {"points", "value", "target", "tolerance", "verdict"},
}  # fmt: skip


@pytest.mark.parametrize("place", PROMISED)
def test_every_promised_key_is_there(place):
    inner = written(CASES["flown badly"]())
    for key in filter(None, place.split(".")):
        inner = inner[int(key)] if key.isdigit() else inner[key]
    assert PROMISED[place] <= set(inner)


def test_what_the_log_cannot_tell_is_null():
    hold = written(CASES["as good as nothing known"]())["holds"][0]
    assert hold["altitude_ft"] is None
    assert hold["inbound_course_magnetic"] is hold["variation"] is None
    assert hold["entry"] is None
    first, second = hold["circuits"]
    assert first["inbound_turn"] is first["inbound_leg"] is first["fix_miss_nm"] is None
    assert first["outbound_leg"]["abeam_s"] is first["outbound_leg"]["timed_s"] is None
    assert first["wind"]["sd_kt"] is None
    assert first["error_budget"] == [] and first["error"] is None and first["error_budget_missing"]
    assert second["outbound_turn"] is second["outbound_leg"] is None
    assert second["scores"]["timing"]["points"] is None
    assert second["scores"]["timing"]["why"]
    assert hold["leaving"]["left_s"] is None


def test_shares_in_the_file_add_up_to_its_error():
    for circuit in written(CASES["flown badly"]())["holds"][0]["circuits"]:
        for key, within in (
            ("cross_track_nm", 0.01),
            ("along_track_nm", 0.01),
            ("time_s", 1.0),
            ("end_cross_track_nm", 0.01),
        ):
            total = sum(share[key] for share in circuit["error_budget"])
            assert total == pytest.approx(circuit["error"][key], abs=within)
        advised = [share["rank"] for share in circuit["error_budget"] if share["advice"]]
        assert advised == sorted(advised) and len(advised) <= 3


def test_numbers_are_what_they_say():
    flown = fly(Plan(faults=BADLY))
    hold = written(debrief_of(flown))["holds"][0]
    assert hold["definition"] == "given"
    assert hold["inbound_course_true"] == 30.0
    # Munich, 2026: the variation is about 4.5 degrees east, from the world magnetic model.
    assert hold["inbound_course_magnetic"] == pytest.approx(30.0 - hold["variation"], abs=0.02)
    assert 3.5 < hold["variation"] < 5.5
    # Wind from 120 at 20 kt blows towards 300.
    assert hold["wind"]["from_true"] == pytest.approx(120.0, abs=0.1)
    assert (hold["wind"]["east_kt"], hold["wind"]["north_kt"]) == (
        pytest.approx(-17.32, abs=0.02),
        pytest.approx(10.0, abs=0.02),
    )
    turn = hold["circuits"][0]["outbound_turn"]
    assert turn["bank_mean"] > 0.0 and turn["rate_mean"] == pytest.approx(3.0, abs=0.01)
    left = written(debrief_of(fly(Plan(side=-1))))["holds"][0]["circuits"][0]["outbound_turn"]
    assert left["bank_mean"] < 0.0 and left["rate_mean"] < 0.0


#: Decimals at most by the end of a key: seconds to 10 ms, miles to 20 cm, places to 10 cm, points as they are shown.
MOST_DECIMALS = {
    "_s": 2, "_nm": 4, "_kt": 2, "_ft": 1, "points": 1, "lat": 6, "lon": 6, "_true": 2, "_magnetic": 2, "bank_mean": 2,
    "bank_max": 2, "variation": 2, "weight": 3,
}  # fmt: skip


@pytest.mark.parametrize(
    "case",
    [
        "flown badly",
        *(
            pytest.param(one, marks=pytest.mark.slow)
            for one in ("by the FAA, left hand, leaving late", "an offset entry")
        ),
    ],
)
def test_no_number_carries_more_digits_than_it_means(case):
    def numbers(value, key=""):
        if isinstance(value, dict):
            for name, inner in value.items():
                yield from numbers(inner, name)
        elif isinstance(value, list):
            for inner in value:
                yield from numbers(inner, key)
        elif isinstance(value, float):
            yield key, value

    held = set()
    for key, one in numbers(written(CASES[case]())):
        assert len(repr(one)) <= 11 and repr(one) != "-0.0", key
        for ending, decimals in MOST_DECIMALS.items():
            if key.endswith(ending) and key != "cost_points":
                assert one == round(one, decimals), (key, one)
                held.add(ending)
    assert held == set(MOST_DECIMALS)


def test_the_log_is_described():
    log = written(CASES["flown badly"]())["log"]
    assert log["channels"] == ["position", "altitude", "bank"]
    assert log["start_utc"] == "2026-03-14T17:05:00Z"
    assert log["interval_s"] == 1.0
    assert log["notices"] == [{"code": "time-duplicate", "message": "two samples had one time"}]


def test_where_no_hold_was_found_the_nearest_miss_is_said():
    said = written(CASES["no hold"]())
    assert said["holds"] == []
    assert said["nearest_miss"] == "one turn of 180° only"


def test_the_verdict_speaks_magnetic_where_the_variation_is_known():
    dated = written(debrief_of(fly(Plan(faults=(Faults(rollout_heading_deg=-30.0, outbound_time_s=0.0),)))))
    undated = written(debrief_of(fly(Plan(faults=(Faults(outbound_heading_deg=-18.0),))), start=None))
    words = json.dumps(dated["holds"][0]["circuits"][0]["error_budget"], ensure_ascii=False)
    assert "°T" not in words
    assert undated["holds"][0]["work_on_first"].count("°T") == 2


#: What a broken measurement may leave in a number, an instant excepted: those are what circuits are cut by.
BROKEN = (math.nan, math.inf, -math.inf, 0.0, -5.0, 1e6)


def broken(part, draw):
    """Break some of a part's numbers, and lose some of its parts."""
    changed = {}
    for field in fields(part):
        value = getattr(part, field.name)
        instant = field.name.endswith("_s") and "sd" not in field.name and field.name != "abeam_s"
        if instant or not draw():
            if is_dataclass(value) and not instant:
                changed[field.name] = broken(value, draw)
        elif isinstance(value, float):
            changed[field.name] = draw.choice(BROKEN)
        elif field.name in ("outbound_turn", "inbound_turn", "outbound_leg", "inbound_leg", "abeam_s"):
            changed[field.name] = None
    return replace(part, **changed)


class Draw:
    """Draws whether, and what, from a seed."""

    def __init__(self, seed: int, share: float) -> None:
        self.random, self.share = random.Random(seed), share
        self.choice = self.random.choice

    def __call__(self) -> bool:
        return self.random.random() < self.share


@cache
def badly_flown():
    """Fly it once: flying takes longer than judging, and every example breaks its own copy."""
    return fly(Plan(faults=BADLY[:2]))


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10**6), share=st.sampled_from([0.02, 0.1, 0.3]), regime=st.sampled_from([ICAO, FAA])
)
def test_whatever_could_not_be_measured_the_file_is_valid_and_nothing_breaks(seed, share, regime):
    flown, draw = badly_flown(), Draw(seed, share)
    motion = flown.motion
    for name in (
        "altitude_ft",
        "ias_kt",
        "tas_kt",
        "heading_deg",
        "wind_east_kt",
        "ias_sd_kt",
        "heading_sd_deg",
    ):
        if draw():
            series = getattr(motion, name).copy()
            series[draw.random.randrange(series.size) :] = draw.choice((math.nan, 0.0, 1e5))
            motion = replace(motion, **{name: series})
    circuits = tuple(broken(circuit, draw) for circuit in flown.circuits)
    flown = replace(flown, circuits=circuits, motion=motion, entry=broken(flown.entry, draw))
    found = VALIDATOR.iter_errors(written(debrief_of(flown, regime, leave_at_s=700.0)))
    assert not [f"{list(error.absolute_path)}: {error.message}" for error in found]


def _described(schema):
    """Follow references and leave out null until the description of an object, or of what a list holds."""
    while True:
        if "$ref" in schema:
            schema = load_schema()["$defs"][schema["$ref"].rsplit("/", 1)[1]]
        elif "oneOf" in schema or "anyOf" in schema:
            schema = next(
                one for one in schema.get("oneOf", schema.get("anyOf")) if one.get("type") != "null"
            )
        elif "items" in schema:
            schema = schema["items"]
        else:
            return schema


def _kinds(kind, schema):
    """Yield each type of the file with its description in the published schema."""
    yield kind, schema
    for name, hint in typing.get_type_hints(kind).items():
        part = next((one for one in (hint, *typing.get_args(hint)) if hasattr(one, "from_json")), None)
        if part is None or part is WrittenLeg:
            continue
        inner = _described(schema["properties"][name])
        by_name = typing.get_origin(hint) is Mapping
        yield from _kinds(part, _described(next(iter(inner["properties"].values()))) if by_name else inner)


def test_the_types_of_the_file_are_those_of_the_published_schema():
    """What the schema lets an older file leave out has a default, and nothing else has."""
    compared = set()
    for kind, schema in _kinds(WrittenDebrief, load_schema()):
        names = set(typing.get_type_hints(kind))
        assert names == set(schema["properties"]), kind
        assert {one for one in names if not hasattr(kind, one)} == set(schema["required"]) - {"schema"}, kind
        compared.add(kind)
    assert len(compared) > 50


@pytest.mark.parametrize("case", CASES)
def test_what_is_written_is_read_back_the_same(case):
    file = written(CASES[case]())
    assert WrittenDebrief.from_json(file).plain() == file


def test_a_file_of_the_first_schema_is_read_with_what_it_leaves_out_unknown():
    """Every key that the schema does not ask for is taken out, as an older program left it out."""
    file = written(CASES["flown badly"]())
    hold = file["holds"][0]
    for name in ("findings", "capped", "excursions", "level_ft", "turns_flown", "ungraded", "flown_path"):
        del hold[name]
    for circuit in hold["circuits"]:
        del (
            circuit["timed"],
            circuit["outbound_leg"]["timed_wings_s"],
            circuit["inbound_turn"]["bank_verdict"],
        )
        for score in circuit["scores"].values():
            del score["outside_s"]
    file["schema"] = 1
    file["holds"][0]["mood"] = "calm"
    read = WrittenDebrief.from_json(file)
    assert read.schema == 1 and read.holds[0].findings == () and read.holds[0].flown_path is None
    assert read.holds[0].circuits[0].outbound_leg.timed_wings_s is None
    assert read.holds[0].circuits[0].timed == "not judged"
    assert read.holds[0].circuits[0].outbound_leg.timed_s == hold["circuits"][0]["outbound_leg"]["timed_s"]


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("holds", 0, "start_s"), "soon", "holds: start_s: 'soon'"),
        (("holds", 0, "circuits", 0, "complete"), 1, "circuits: complete: '1'"),
        (("holds", 0, "circuits", 0, "number"), True, "circuits: number: 'True'"),
        (("holds", 0, "fix"), [1.0, 2.0], "holds: fix: not an object"),
        (("log", "channels"), "position", "log: channels: 'position'"),
        (("holds", 0, "wind", "source"), None, "wind: source: 'None'"),
    ],
)
def test_what_is_no_debrief_is_refused_with_its_place(path, value, said):
    file = written(CASES["flown badly"]())
    inner = file
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    with pytest.raises(ValueError, match=re.escape(said)):
        WrittenDebrief.from_json(file)
    del inner[path[-1]]
    with pytest.raises(ValueError, match=f"{path[-1]} is missing"):
        WrittenDebrief.from_json(file)
