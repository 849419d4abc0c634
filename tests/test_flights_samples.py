"""The sample logs are what the generator makes, to the byte, and read as what their notes say."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.circuits.find import find_holds
from analyser.earth.angles import wrap180
from analyser.holds.holdfile import read_hold
from analyser.logs.read import read_log
from tests.flights.samples import FOLDER, make_samples

LOGS = sorted(p for p in FOLDER.iterdir() if p.suffix in {".gpx", ".csv", ".tsv"})
MOST_BYTES = 3_000_000


@pytest.fixture(scope="module")
def anew(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("samples")
    make_samples(folder)
    return folder


@pytest.mark.slow
def test_made_anew_they_are_the_same_to_the_byte(anew: Path) -> None:
    kept = {p.name: p.read_bytes() for p in FOLDER.iterdir() if p.name != "README.md"}
    made = {p.name: p.read_bytes() for p in anew.iterdir()}
    assert sorted(kept) == sorted(made)
    assert [name for name in kept if kept[name] != made[name]] == []


def test_the_folder_stays_small() -> None:
    assert sum(p.stat().st_size for p in FOLDER.iterdir()) < MOST_BYTES


def test_each_is_described() -> None:
    told = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert "invented" in told
    for path in FOLDER.iterdir():
        assert path.name == "README.md" or f"`{path.name}`" in told


@pytest.mark.parametrize("path", LOGS, ids=lambda p: p.name)
def test_each_reads_whole(path: Path) -> None:
    (track,) = read_log(path)
    assert track.samples > 200
    assert track.duration_s > 400.0


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda p: p.name)
def test_each_hold_file_reads(path: Path) -> None:
    assert read_hold(path).turns == ("left" if path.stem == "strong_wind" else "right")


#: What the generator was told to fly: course true, turns, entry, circuits.
FLOWN = {
    "two_holds.gpx": [(310.0, "left", "offset", 2), (70.0, "right", "direct", 2)],
    "no_hold.gpx": [],
}


@pytest.mark.parametrize("name", FLOWN)
def test_what_was_flown_is_found_without_a_hold_file(name: str) -> None:
    (track,) = read_log(FOLDER / name)
    found = find_holds(track)
    assert [(h.hold.turns, h.entry and h.entry.flown, len(h.circuits)) for h in found] == [
        told[1:] for told in FLOWN[name]
    ]
    for hold, (course_deg, *_) in zip(found, FLOWN[name], strict=True):
        assert abs(wrap180(hold.hold.inbound_course_true_deg - course_deg)) < 3.0
        assert all(circuit.complete for circuit in hold.circuits)
