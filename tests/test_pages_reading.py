"""What the debrief page says and how it is built, without a browser."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from base64 import b64encode
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from analyser.circuits.flown import FlownHold
from analyser.debrief import Debrief, HoldDebrief
from analyser.document import document as plain
from analyser.grading.judge import judge_hold
from analyser.pages.captions import rollout_words
from analyser.pages.circuit_views import no_advice
from analyser.pages.shown_hold import score_part
from analyser.pages.words import clock, turnable
from analyser.schema.debrief_file import WrittenCircuit, WrittenScorePart
from tests.benchmark_rendering import BOUND, ratios
from tests.pages_fixture import debriefed, no_hold, rendered


@pytest.fixture(scope="module")
def page() -> str:
    return rendered(*debriefed())


class Outline(HTMLParser):
    """Every element with its attributes and the text before it, in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def visible(html: str) -> str:
    """Return the page's text without style, script and data."""
    bare = re.sub(r"<(style|script)[^>]*>.*?</\1>", " ", html, flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", bare))


def test_headings_come_in_order(page: str) -> None:
    levels = [int(tag[1]) for tag, _ in Outline(page).elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_the_order_of_reading(page: str) -> None:
    text = visible(page)
    order = [
        "Invented practice hold",
        "Below standard",
        "Work on first",
        "Plan view",
        "Leg timing",
        "in the hold: air, height",
        "Every judged number of circuit 1",
        "Outbound time",
        "They lie round the wind",
        "Judged by",
        "SHA-256",
    ]
    order.append("The AIP, air traffic control")
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_the_policy_names_the_very_style_and_script(page: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    allowed = policy.group(1).replace("&#39;", "'")
    assert allowed.startswith("default-src 'none';")
    assert "unsafe" not in allowed
    assert "http" not in allowed
    for element in ("style", "script"):
        text = re.search(rf"<{element}>(.*?)</{element}>", page, flags=re.S)
        assert text is not None
        digest = b64encode(hashlib.sha256(text.group(1).encode()).digest()).decode()
        assert f"{element}-src 'sha256-{digest}'" in allowed


def test_nothing_in_the_markup_needs_what_the_policy_forbids(page: str) -> None:
    for tag, attributes in Outline(page).elements:
        assert "style" not in attributes, tag
        assert not [name for name in attributes if name.startswith("on")]
        for name in ("src", "href", "xlink:href", "action", "data"):
            assert not (attributes.get(name) or "").startswith(("http", "//")), (tag, name)


def test_ids_are_unique_and_references_lead_somewhere(page: str) -> None:
    elements = Outline(page).elements
    ids = [attributes["id"] for _, attributes in elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    for _, attributes in elements:
        for reference in (attributes.get("aria-labelledby"), (attributes.get("href") or "")):
            if reference and reference.startswith("#"):
                assert reference[1:] in ids
    assert all(a["aria-labelledby"] in ids for _, a in elements if "aria-labelledby" in a)


def said_of(page: str, picture: dict[str, str | None]) -> str:
    """A picture's name: its own words, or those of the element that names it."""
    if picture.get("aria-label"):
        return str(picture["aria-label"])
    found = re.search(rf'id="{picture["aria-labelledby"]}"[^>]*>(.*?)</(?:figcaption|p)>', page, flags=re.S)
    assert found is not None
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", found.group(1)))


def test_every_picture_states_its_finding(page: str) -> None:
    pictures = [a for tag, a in Outline(page).elements if tag == "svg" and a.get("role") == "img"]
    assert len(pictures) >= 12
    assert all(len(said_of(page, a)) > 25 for a in pictures)
    plan = next(a for a in pictures if a["data-fig"] == "plan")
    assert "NM left of the course, circuit 1" in said_of(page, plan)


def test_every_table_has_headers_both_ways(page: str) -> None:
    for table in re.findall(r"<table.*?</table>", page, flags=re.S):
        assert 'scope="col"' in table
        assert 'scope="row"' in table


def test_not_judged_is_not_nought(page: str) -> None:
    debrief, document = debriefed()
    circuits = document["holds"][0]["circuits"]
    circuits[0]["scores"]["speed"]["points"] = 0.0
    circuits[1]["scores"]["speed"] |= {"points": None, "verdict": "not judged"}
    html = rendered(debrief, document)
    table = re.search(r'<table class="points">.*?</table>', html, flags=re.S)
    assert table is not None
    heads = re.findall(r'<span class="long">([^<]+)</span><span class="short"', table.group(0))
    rows = re.findall(r"<tr><th scope=\"row\">.*?</tr>", table.group(0), flags=re.S)
    cells = [re.findall(r"<td.*?</td>", row, flags=re.S)[heads.index("Speed")] for row in rows]
    words = [re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", cell)).strip() for cell in cells]
    assert words[:2] == ["0", "not judged"]
    # What was not judged has no bar, not even an empty one.
    assert 'class="fill"' in cells[0] and 'class="fill"' not in cells[1] and 'class="rail"' not in cells[1]


def test_every_judged_number_shows_what_it_was_judged_by(page: str) -> None:
    tables = re.findall(r'<table class="judged">.*?</table>', page, flags=re.S)
    assert len(tables) == 6  # for each circuit the scores and the error budget
    for words in ("Value", "Target", "Tolerance", "Uncertainty", "Obtained", "derived", "logged"):
        assert words in tables[0]
    # By what rule is said once for all circuits.
    sources = re.search(r'<dl class="listed">.*?</dl>', page, flags=re.S)
    assert sources is not None
    for item in ("Leg timing", "Bank in the turns", "Wind correction", "Inbound track", "Altitude", "Speed"):
        assert f"<dt>{item}" in sources.group(0)
    assert sources.group(0).count("Part-FCL") >= 4


def test_a_page_without_holds_says_so_and_why() -> None:
    debrief, document = no_hold()
    text = visible(rendered(debrief, document))
    assert "No holding pattern was found in this log." in text
    miss = document["nearest_miss"]
    assert f"Nearest miss {miss[0].upper()}{miss[1:]}." in text
    assert "qualified instructor decide" in text


def rejudged(debrief: Debrief, flown: FlownHold, **track: Any) -> tuple[Debrief, dict[str, Any]]:
    """Judge a hold that was changed and write its document anew."""
    hold = HoldDebrief(flown, judge_hold(flown, debrief.regime, debrief.standard))
    made = replace(debrief, holds=(hold,), track=replace(debrief.track, **track))
    return made, plain(made)


def test_a_hold_with_almost_nothing_known_still_reads() -> None:
    """No heights, no airspeed, no entry, no date, and a wind too uncertain to judge anything by."""
    debrief, _ = debriefed(circuits=1, given=False)
    flown = debrief.holds[0].flown
    nothing = np.full(flown.motion.time_s.size, np.nan)
    unsure = {
        f"{name}": np.full(nothing.size, 90.0) for name in ("bank_sd_deg", "heading_sd_deg", "tas_sd_kt")
    }
    motion = replace(flown.motion, altitude_ft=nothing, ias_kt=nothing, ias_sd_kt=nothing, **unsure)
    circuit = replace(flown.circuits[0], wind_sd_kt=60.0, tas_sd_kt=60.0)
    flown = replace(flown, motion=motion, entry=None, fix_sd_nm=None, circuits=(circuit,))
    text = visible(rendered(*rejudged(debrief, flown, start_utc=None, channels={}, notices=())))
    assert text.count("not judged") >= 4
    assert "None" not in text
    assert "nan" not in text.lower().split()
    assert re.search(r"2[67]\d°T inbound", text)
    assert "°M" not in text
    assert "Nothing odd was found in the file." in text


def test_a_turn_missing_altogether_still_reads() -> None:
    debrief, _ = debriefed(circuits=2)
    flown = debrief.holds[0].flown
    broken = replace(flown.circuits[1], inbound_turn=None, inbound_leg=None, abeam_s=None, complete=False)
    text = visible(rendered(*rejudged(debrief, replace(flown, circuits=(flown.circuits[0], broken)))))
    assert "broken off" in text
    assert re.search(
        "what it cost is not known ?: the circuit has no outbound leg between two turns[.]", text
    )


def test_a_fix_that_was_not_passed_again_is_said_where_leaving_was_asked_for() -> None:
    debrief, _ = debriefed(circuits=2)
    one = debrief.holds[0]
    broken = replace(one.flown.circuits[1], inbound_turn=None, inbound_leg=None, complete=False)
    flown = replace(one.flown, circuits=(one.flown.circuits[0], broken))
    judged = judge_hold(flown, debrief.regime, debrief.standard, leave_at_s=broken.start_s + 400.0)
    made = replace(debrief, holds=(HoldDebrief(flown, judged, one.airspace),))
    text = visible(rendered(made))
    assert "it was not passed again" in text
    # What could have been done is said all the same: each short circuit with its own numbers.
    assert re.search(
        r"shortened to \d:\d\d each \(outbound \d{3}°M \d{3}°T ?, \d+ s\) ?; next turn-in at", text
    )


@pytest.mark.parametrize(
    ("after_s", "said"),
    [(-7.0, "7 s late"), (12.0, "12 s early"), (0.3, "on the second"), (-0.3, "on the second")],
)
def test_the_page_says_how_late_or_early_the_fix_was_left(after_s: float, said: str) -> None:
    debrief, _ = debriefed(circuits=2)
    one = debrief.holds[0]
    left_s = one.flown.circuits[-1].end_s
    judged = judge_hold(one.flown, debrief.regime, debrief.standard, leave_at_s=left_s + after_s)
    made = replace(debrief, holds=(HoldDebrief(one.flown, judged, one.airspace),))
    wanted, left = (clock(at_s - one.flown.start_s) for at_s in (left_s + after_s, left_s))
    assert f"Wanted over the fix at {wanted}, left at {left}: {said}." in visible(rendered(made))


@pytest.mark.parametrize(
    ("off_nm", "sd_nm", "said"),
    [
        (0.834, None, "0.83 NM right of the course"),
        (-0.106, 0.024, "0.11 NM left of the course"),
        (-0.004, 0.0, "on the course"),
        (-0.106, 0.06, "0.11 NM left of the course (±0.12 NM)"),
        (0.002, 0.29, "on the course (±0.58 NM)"),
    ],
)
def test_a_roll_out_is_said_on_its_side_of_the_course_and_how_surely(off_nm, sd_nm, said) -> None:
    assert rollout_words(off_nm, sd_nm) == said


def test_the_parts_of_the_score_say_what_they_count() -> None:
    circuit = WrittenScorePart(part="circuit", circuit=2, points=57.6, weight=0.5)
    assert score_part(circuit) == "circuit 2 58 (weight 0.5)"
    assert score_part(replace(circuit, part="entry", circuit=None, weight=1.0)) == "entry 58"


def test_heights_in_words_turn_to_metres_and_directions_to_true() -> None:
    said = turnable("Hold 122°M at 4,000 ft, <b>not</b> 3,780 ft; 984 ft above.", -10.0, [112.2])
    assert '<span class="when-mag">122°M</span><span class="when-tru">112°T</span>' in said
    assert '<span class="when-ft">4,000 ft</span><span class="when-m">1,219 m</span>' in said
    assert '<span class="when-m">300 m</span> above' in said
    assert "&lt;b&gt;" in said
    assert "122°M" in turnable("Hold 122°M.", None)


def test_the_score_is_shown_with_what_it_is_made_of(page: str) -> None:
    _, document = debriefed()
    scoring = document["holds"][0]["scoring"]["parts"]
    judged = [part for part in scoring if part["points"] is not None]
    mean = sum(part["points"] * part["weight"] for part in judged) / sum(part["weight"] for part in judged)
    assert mean == pytest.approx(document["holds"][0]["points"], abs=0.1)
    found = re.search(r"(\d+) is the weighted mean of (.*?)[.] The first circuit measures", visible(page))
    assert found is not None and int(found.group(1)) == round(mean)
    assert len(found.group(2).split(", ")) == len(judged)


def test_a_circuit_outside_tolerance_without_advice_names_what_moved_it_most() -> None:
    circuit = debriefed()[1]["holds"][0]["circuits"][0]
    share = {**circuit["error_budget"][0], "cross_track_nm": 0.0, "along_track_nm": 0.3, "advice": None}
    circuit["error_budget"] = [{**share, "cause": "rollout_heading"}]
    for score in circuit["scores"].values():
        score["verdict"] = "within"
    circuit["scores"]["timing"]["verdict"] = "outside"
    said = "No single fault to correct. What moved the roll-out most, by 0.30 NM, was the roll-out heading"
    assert no_advice(WrittenCircuit.from_json(circuit)).startswith(said)
    circuit["scores"]["timing"]["verdict"] = "within"
    assert no_advice(WrittenCircuit.from_json(circuit)) == "Nothing moved the roll-out enough to speak of."


def test_a_hold_in_a_wind_that_leaves_no_circuit_says_so() -> None:
    debrief, _ = debriefed(circuits=1)
    flown = debrief.holds[0].flown
    gale = replace(flown.circuits[0], wind_east_kt=150.0, wind_north_kt=0.0)
    text = visible(rendered(*rejudged(debrief, replace(flown, circuits=(gale,)))))
    assert "No exact circuit: the wind is too strong" in text


def test_the_variation_is_shown_with_its_model_and_date(page: str) -> None:
    debrief, document = debriefed()
    assert "as given with the hold (the model says" in visible(page)
    document["holds"][0]["variation"] = 3.39
    assert re.search(
        r"Magnetic variation 3\.\d° E \(WMM-2025, 2026\.2\)", visible(rendered(debrief, document))
    )


def test_the_data_for_the_script_cannot_end_its_element() -> None:
    from analyser.pages.template import island

    text = str(island({"name": "</script><!--<script>&"}))
    assert "<" not in text
    assert json.loads(text) == {"name": "</script><!--<script>&"}


_RENDER = """
import hashlib
from analyser.pages.words import turnable
from analyser.schema.debrief_file import WrittenCircuit
from analyser.pages.circuit_views import no_advice
from tests.pages_fixture import debriefed, no_hold, rendered
print(hashlib.sha256(rendered(*debriefed(holds=3, given=False)).encode()).hexdigest())
"""


@pytest.mark.slow
def test_two_runs_give_the_same_bytes() -> None:
    found = set()
    for seed in ("1", "2"):
        environment = os.environ | {"PYTHONHASHSEED": seed, "TZ": f"Etc/GMT+{seed}"}
        done = subprocess.run(
            [sys.executable, "-c", _RENDER], env=environment, capture_output=True, text=True, check=True
        )
        found.add(done.stdout)
    assert len(found) == 1


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.x."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def papers(page: str) -> list[dict[str, str]]:
    """The inks on light paper, on dark paper and in print; short colours written out."""
    style = re.search(r"<style>(.*?)</style>", page, flags=re.S)
    assert style is not None
    found: list[dict[str, str]] = [{}, {}]
    for name, light, dark in re.findall(r"--([\w-]+): light-dark\((#\w+), (#\w+)\)", style.group(1)):
        found[0][name], found[1][name] = light, dark
    printed = re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})", style.group(1))
    return [
        {name: "#" + "".join(2 * c for c in v[1:]) if len(v) == 4 else v for name, v in inks.items()}
        for inks in (*found, found[0] | dict(printed))
    ]


def test_writing_and_lines_stand_out_from_every_paper(page: str) -> None:
    """WCAG 2.x AA: 4.5 for text, 3 for lines that carry meaning."""
    for inks in papers(page):
        paper = inks["ink-paper"]
        for name in ("ink-ink", "soft", "ink-mark", "ink-out"):
            assert contrast(inks[name], paper) >= 4.5, (name, paper)
        for name in ("ink-in", "ink-entry", "ink-other", "ink-pencil", "ink-good", "ink-ghost", "ink-air"):
            assert contrast(inks[name], paper) >= 3.0, (name, paper)


def test_lines_keep_their_width_where_another_picture_uses_them(page: str) -> None:
    """Within ``use`` no rule matches that names an element outside it (SVG 2, 5.6): outlines would fade to nothing."""
    assert re.search(r"[}>]path\{[^}]*vector-effect: var\(--lines, non-scaling-stroke\)", page)
    assert '<use href="#h1-airspace"' in page


def test_phases_differ_without_colour() -> None:
    from analyser.pages.subject import PHASES

    lines = [(width, dash) for _, _, ink, width, dash, _ in PHASES.values() if ink != "other"]
    assert len(lines) == len(set(lines))


@pytest.mark.slow
def test_rendering_costs_less_than_a_dozen_bare_figures() -> None:
    """Less than one and a half times eight bare matplotlib SVG figures, in the same run."""
    assert min(ratios(3)) < BOUND
