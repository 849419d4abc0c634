"""Names of reports: no log lands on another's, whatever the order, and no file is read more often than needed."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from analyser.work import report_names as names_module
from analyser.work import run
from analyser.work.report_names import Names, flight_stem, read_earlier, sha256_of


def log(folder: Path, name: str, content: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(content, encoding="utf-8")
    return folder / name


def report(out: Path, stem: str, sha256: str, **more: object) -> None:
    out.mkdir(exist_ok=True)
    document = {"schema": 1, "caution": "…", **more, "log": {"sha256": sha256}, "rules": {}, "holds": []}
    (out / f"{stem}.json").write_text(json.dumps(document, indent=1), encoding="utf-8")


def test_the_first_of_a_name_has_it_plain_and_is_not_even_read(tmp_path):
    names = Names(tmp_path / "out")
    # It does not exist: nothing of it is read.
    assert names.claim(tmp_path / "a.gpx").stem == "a"
    assert names.claim(tmp_path / "b.gpx").stem == "b"


def test_others_of_the_name_get_a_number(tmp_path):
    names = Names(tmp_path / "out")
    claimed = [names.claim(log(tmp_path / str(k), "a.gpx", f"flight {k}")).stem for k in range(4)]
    assert claimed == ["a", "a-2", "a-3", "a-4"]


def test_a_number_is_not_given_to_two(tmp_path):
    names = Names(tmp_path / "out")
    assert names.claim(log(tmp_path / "1", "a-2.gpx", "one")).stem == "a-2"
    assert names.claim(log(tmp_path / "1", "a.gpx", "two")).stem == "a"
    assert names.claim(log(tmp_path / "2", "a.gpx", "three")).stem == "a-3"
    later = Names(tmp_path / "out")
    assert later.claim(tmp_path / "1" / "a.gpx").stem == "a"
    assert later.claim(tmp_path / "2" / "a.gpx").stem == "a-2"
    assert later.claim(tmp_path / "1" / "a-2.gpx").stem == "a-2-2"


@pytest.mark.parametrize(
    ("stem", "kept"), [("w" * 180, 180), ("w" * 181, 180), ("w" * 250, 180), ("\u00fc" * 124, 90)]
)
def test_a_long_name_is_cut_so_that_endings_and_numbers_find_room(tmp_path, stem, kept):
    """File systems allow 255 bytes; a number, an ending and a temporary name still have to follow."""
    assert Names(tmp_path / "out").claim(tmp_path / f"{stem}.gpx").stem == stem[:kept]


@pytest.mark.parametrize(("one", "other"), [("Track", "track"), ("fl\u00fcg", "flu\u0308g")])
def test_names_that_some_file_systems_take_for_one_are_one(tmp_path, one, other):
    names = Names(tmp_path / "out")
    assert names.claim(log(tmp_path / "1", f"{one}.gpx", "one")).stem == one
    assert names.claim(log(tmp_path / "2", f"{other}.gpx", "two")).stem == f"{other}-2"


def test_the_same_log_again_in_one_run_is_a_twin(tmp_path):
    names = Names(tmp_path / "out")
    first = log(tmp_path / "1", "a.gpx", "one")
    names.claim(first)
    assert names.claim(log(tmp_path / "2", "a.gpx", "one")).twin == first
    assert names.claim(log(tmp_path / "3", "b.gpx", "one")).twin is None


def test_a_log_comes_back_to_its_own_report(tmp_path):
    out = tmp_path / "out"
    logs = [log(tmp_path / str(k), "a.gpx", f"flight {k}") for k in range(3)]
    for stem, path in zip(("a", "a-2", "a-3"), logs, strict=True):
        report(out, stem, sha256_of(path))
    names = Names(out)
    claims = [names.claim(path) for path in reversed(logs)]
    assert [claim.stem for claim in claims] == ["a-3", "a-2", "a"]
    assert all(claim.earlier is not None for claim in claims)


def test_a_file_that_is_no_debrief_is_left_alone(tmp_path):
    out = tmp_path / "out"
    log(out, "a.json", '{"type": "FeatureCollection"}')
    log(out, "a-2.json", "not even JSON")
    assert Names(out).claim(log(tmp_path, "a.gpx", "one")).stem == "a-3"


def test_each_earlier_file_is_read_once_and_only_if_its_name_is_wanted(tmp_path, monkeypatch):
    out = tmp_path / "out"
    for k in range(1, 300):
        report(out, "a" if k == 1 else f"a-{k}", f"{k:064d}")
        report(out, f"other{k}", f"{k:064d}")
    read: list[Path] = []
    monkeypatch.setattr(names_module, "read_earlier", lambda path: (read.append(path), read_earlier(path))[1])
    names = Names(out)
    claimed = {names.claim(log(tmp_path / str(k), "a.gpx", f"flight {k}")).stem for k in range(200)}
    assert claimed == {f"a-{k}" for k in range(300, 500)}
    assert len(read) == len(set(read)) == 299


def test_a_pipe_is_not_read_for_its_name(tmp_path):
    import os

    os.mkfifo(tmp_path / "a.gpx")
    names = Names(tmp_path / "out")
    names.claim(log(tmp_path / "1", "a.gpx", "one"))
    assert names.claim(tmp_path / "a.gpx").stem == "a-2"


def test_flights_of_one_log_have_names_that_no_log_gets(tmp_path):
    out = tmp_path / "out"
    assert [flight_stem(out, "a", k, "f" * 64) for k in (1, 2, 3)] == ["a", "a+2", "a+3"]
    assert Names(out).claim(tmp_path / "a+2.gpx").stem == "a+2-1"
    report(out, "a+2", "e" * 64)
    assert flight_stem(out, "a", 2, "e" * 64) == "a+2"
    assert flight_stem(out, "a", 2, "f" * 64) == "a+2-2"


def test_the_head_of_a_debrief_tells_enough(tmp_path):
    log_block = {
        "name": 'x "rules":',
        "sha256": "a" * 64,
        "notices": [{"code": "c", "message": "m" * 50_000}],
    }
    program = {"version": "1.2.3", "job": "b" * 16, "files": ["x", "x+2"]}
    report(tmp_path, "x", "", program=program)
    for notices in (log_block["notices"], []):
        document = {"schema": 1, "caution": "c", "program": program, "log": {**log_block, "notices": notices}}
        text = json.dumps({**document, "rules": {}, "holds": []}, indent=1)
        (tmp_path / "x.json").write_text(text, encoding="utf-8")
        found = read_earlier(tmp_path / "x.json")
        assert (found.sha256, found.version, found.stems) == ("a" * 64, "1.2.3", ("x", "x+2"))


def test_a_report_stands_while_no_file_of_the_program_is_newer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file whose time is still to come tells nothing, and what Python compiled is no change."""
    program, out = tmp_path / "program", tmp_path / "out"
    for name in ("__init__.py", "rules/icao.toml", "__pycache__/a.pyc"):
        log(program / Path(name).parent, Path(name).name, "")
    report(out, "a", "f" * 64, program=names_module.program_block("job", ["a"]))
    log(out, "a.html", "")
    earlier, made_s = read_earlier(out / "a.json"), (out / "a.html").stat().st_mtime
    monkeypatch.setattr(names_module.analyser, "__file__", str(program / "__init__.py"))

    def stands(changed_s: float) -> bool:
        os.utime(program / "__init__.py", (1e9, 1e9))
        os.utime(program / "rules/icao.toml", (changed_s, changed_s))
        names_module._program_changed_ns.cache_clear()
        return earlier.stands(out, "job")

    try:
        for made in (out / "a.json", out / "a.html"):
            os.utime(made, (made_s - 20.0, made_s - 20.0))
        assert stands(made_s - 30.0) and not stands(made_s - 10.0) and stands(made_s + 1e6)
        assert not earlier.stands(out, "another job")
    finally:
        names_module._program_changed_ns.cache_clear()


def test_each_log_is_gathered_once_and_a_file_that_is_named_is_a_log_whatever_it_is(tmp_path):
    (tmp_path / "reports").mkdir()
    (tmp_path / "reports" / "a.json").write_text('{"schema": 2, "caution": "", "log": {}}')
    for name in ("b.csv", "a.GPX", "d.md", "hold.toml"):
        (tmp_path / name).write_text("x")
    named = [tmp_path, *(tmp_path / name for name in ("b.csv", "d.md", "gone.gpx", "hold.toml", "reports"))]
    logs, faults = run._gather(named)
    assert [log.name for log in logs] == ["a.GPX", "b.csv", "d.md"]
    said = ("there is no such file", "a hold file is no log", "no logs but the reports of some")
    assert len(faults) == 3 and all(one in fault for one, fault in zip(said, faults, strict=True))
