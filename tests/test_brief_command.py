"""``analyser brief`` as a person types it."""

import json

import pytest

HOLD = """
name = "Invented hold"
fix = { lat = 48.1234, lon = 11.5678 }
inbound_course = 263
reference = "magnetic"
turns = "right"
altitude_ft = 4000
speed_kias = 110
reported_wind = "240/22"
leave_fix_at = 2026-03-14T18:32:00Z
"""


@pytest.fixture
def hold(tmp_path):
    path = tmp_path / "hold.toml"
    path.write_text(HOLD, encoding="utf-8")
    return path


@pytest.fixture
def brief(program):
    return lambda *words: program("brief", *words)


def test_card_on_the_terminal(brief, hold):
    status, out, err = brief("--hold", hold, "--heading", 120)
    assert (status, err) == (0, "")
    assert out.startswith("Invented hold\n")
    assert "Entry, arriving on heading 120°M" in out
    assert "[1] hold file" in out
    assert out.rstrip().endswith("a qualified instructor decide.")


def test_json_and_page(brief, hold, tmp_path):
    page = tmp_path / "cards" / "card.html"
    status, out, _ = brief("--hold", hold, "--json", "--out", page, "--date", "2026-03-14")
    assert status == 0
    document = json.loads(out)
    assert document["hold"]["inbound_course_magnetic"] == pytest.approx(263)
    assert document["flight"]["wind"] == {"from_true": 240, "speed_kt": 22}
    assert [plan["wanted_s"] for plan in document["leaving"]["plans"]] == [60 * k for k in range(4, 11)]
    assert "Training aid" in page.read_text(encoding="utf-8")


def test_heading_is_magnetic_unless_true(brief, hold):
    common = ("--hold", hold, "--heading", 120, "--json", "--date", "2026-03-14")
    magnetic = json.loads(brief(*common)[1])
    true = json.loads(brief(*common, "--true")[1])
    variation = magnetic["hold"]["variation"]
    assert 3 < variation < 6
    assert true["flight"]["arrival_heading_true"] == 120
    assert magnetic["flight"]["arrival_heading_true"] == pytest.approx(120 + variation)


def test_times_of_leaving(brief, hold):
    def wanted(*words):
        out = brief("--hold", hold, "--json", *words)[1]
        return [plan["wanted_s"] for plan in json.loads(out)["leaving"]["plans"]]

    assert wanted("--leave-at", "7:30, 9") == [450, 540]
    # From 18:25:30 to the hold file's 18:32 are 6:30; 00:10 belongs to the next day.
    assert wanted("--over-at", "18:25:30") == [390]
    assert wanted("--over-at", "18:25:30Z", "--leave-at", "18:30") == [270, 390]
    assert wanted("--over-at", "23:55", "--leave-at", "00:10")[0] == 900
    # A plus is a span, whether or not the time of passing is known; a date may stand before the time.
    assert wanted("--leave-at", "+7:30") == [450]
    assert wanted("--over-at", "18:25:30", "--leave-at", "+7:30") == [390, 450]
    assert wanted("--over-at", "18:25:30", "--leave-at", "2026-03-14T18:30:00Z") == [270, 390]


@pytest.mark.parametrize(
    ("words", "taken", "other"),
    [
        (("--leave-at", "18:30"), "18:30 is taken as 18 min 30 s after", "for 18:30 UTC say with --over-at"),
        (("--leave-at", "+9, 7:30"), "7:30 is taken as 7 min 30 s after", "for 07:30 UTC say with --over-at"),
        (
            ("--leave-at", "18:30", "--over-at", "18:22"),
            "taken as 18:30 UTC",
            "after passing the fix write +18:30",
        ),
        (("--leave-at", "12", "--over-at", "11:22"), "taken as 12:00 UTC", "write +12"),
        (("--leave-at", "+18:30, 9"), "", ""),
        (("--leave-at", "2026-03-14T18:30:00Z", "--over-at", "18:22"), "", ""),
    ],
)
def test_a_time_that_reads_two_ways_is_told_with_how_it_was_taken(brief, hold, words, taken, other):
    status, out, err = brief("--hold", hold, *words)
    assert status == 0 and "Leaving on time" in out
    assert err.count("taken as") == bool(taken) and taken in err and other in err


def test_a_span_in_place_of_utc_is_told_of(brief, hold):
    status, _, err = brief("--hold", hold, "--leave-at", "7:30", "--over-at", "18:22")
    assert (
        status == 2
        and "'7:30' is no time (write 18:32" in err
        and "or +7:30, minutes and seconds after" in err
    )


def test_quiet_prints_nothing(brief, hold):
    assert brief("--hold", hold, "--quiet") == (0, "", "")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--wind", "240 at 22"), "--wind: '240 at 22' must be degrees true and knots"),
        (("--wind", "400/22"), "at most 360"),
        (("--tas", "0"), "--tas: 0 is not an airspeed"),
        (("--tas", "100", "--ias", "90"), "two airspeeds are given"),
        (("--heading", "400"), "--heading: 400 is not a heading"),
        (("--altitude", "99000"), "--altitude"),
        (("--category", "Q"), "--category: 'Q' is no aircraft category"),
        (("--rules", "lunar"), "use icao or faa"),
        (("--leave-at", "noon"), "--leave-at: 'noon' is no time of leaving"),
        (("--leave-at", "7:75"), "--leave-at"),
        (("--over-at", "noon"), "--over-at: 'noon' is no time (write 18:32"),
        (("--date", "yesterday"), "--date: 'yesterday' is not a date"),
    ],
)
def test_wrong_usage_is_said_without_a_traceback(brief, hold, words, said):
    status, out, err = brief("--hold", hold, *words)
    assert (status, out) == (2, "")
    assert said in err
    assert "Traceback" not in err


def test_wrong_hold_file(brief, tmp_path):
    status, out, err = brief("--hold", tmp_path / "nowhere.toml")
    assert (status, out) == (2, "")
    assert "no such file" in err


def test_page_that_cannot_be_written(brief, hold, tmp_path):
    (tmp_path / "file").write_text("")
    status, _, err = brief("--hold", hold, "--out", tmp_path / "file" / "card.html")
    assert status == 1
    assert "file: the folder cannot be written to: a file is in its place" in err


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("log.gpx", "<gpx></gpx>", "this is a log, no hold file"),
        ("partly.toml", 'inbound_course = "274M"\nturns = "R"\n', "key 'fix': is missing"),
    ],
)
def test_what_no_card_can_be_made_of(brief, tmp_path, name, text, said):
    (tmp_path / name).write_text(text, encoding="utf-8")
    status, out, err = brief("--hold", tmp_path / name)
    assert (status, out) == (2, "")
    assert said in err


def test_a_page_that_is_not_written_cannot_be_opened(brief, monkeypatch, tmp_path, hold):
    opened = []
    monkeypatch.setattr("typer.launch", opened.append)
    status, _, err = brief("--hold", hold, "--open")
    assert status == 2
    assert "--open: there is no page to open" in err
    assert brief("--hold", hold, "--out", tmp_path / "card.html", "--open")[0] == 0
    assert opened == [str(tmp_path / "card.html")]
