"""The logbook's pages and the grade sheet in a real browser, cut off from every network."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from analyser.logbook.book import Logbook
from analyser.logbook.classes import compare
from analyser.logbook.progress import progress_of
from analyser.logbook.sheet import grades_of, read_sheet
from analyser.logbook.sheet_file import keep_sheet
from analyser.pages.compare import compare_page
from analyser.pages.page import render_page
from analyser.pages.progress import progress_page
from analyser.rules.scales import load_scale
from tests.club.build import FIRST_DAY, fill
from tests.lacking import lacking
from tests.pages_browser import Watched, axe_script, browser, opened
from tests.pages_fixture import debriefed

pytestmark = pytest.mark.browser

DESK = {"width": 1280, "height": 900}
PHONE = {"width": 360, "height": 760}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    with Logbook.open(folder / "club.sqlite") as book:
        fill(book)
        sessions = book.sessions()
    progress = progress_of("Alma Brook", sessions, scale=load_scale(), on=FIRST_DAY.date().replace(month=3))
    texts = {
        "progress": progress_page(progress, card_file="card.html", hold_file="hold.toml"),
        "compare": compare_page(compare(sessions, load_scale()), scale=load_scale()),
        "debrief": render_page(*debriefed(holds=2, given=False)),
    }
    made = {name: folder / f"{name}.html" for name in texts}
    for name, text in texts.items():
        made[name].write_text(text, encoding="utf-8")
    return made


@pytest.fixture
def sheet(chromium: Any, files: dict[str, Path]) -> Iterator[Watched]:
    with opened(chromium, files["debrief"], viewport=DESK, accept_downloads=True) as watched:
        watched.page.evaluate(
            "for (const one of document.querySelectorAll('.whole, .grade_sheet')) one.open = true"
        )
        yield watched
        assert watched.complaints == [], "the page complained"


@pytest.mark.parametrize("name", ["progress", "compare"])
def test_the_page_asks_for_nothing_and_complains_of_nothing(
    chromium: Any, files: dict[str, Path], name: str
) -> None:
    with opened(chromium, files[name], viewport=DESK) as watched:
        assert watched.page.title().startswith("Holding")
        assert [url for url in watched.requests if not url.startswith("data:")] == [files[name].as_uri()]
        assert watched.complaints == []


@pytest.mark.parametrize("name", ["progress", "compare", "debrief"])
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_scrolls_sideways(
    chromium: Any, files: dict[str, Path], name: str, size: dict[str, int]
) -> None:
    with opened(chromium, files[name], viewport=size) as watched:
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@pytest.mark.parametrize("name", ["progress", "compare"])
@pytest.mark.parametrize("paper", ["light", "dark"])
def test_the_accessibility_checker_finds_nothing(
    chromium: Any, files: dict[str, Path], name: str, paper: str, axe: str
) -> None:
    with opened(chromium, files[name], viewport=DESK, color_scheme=paper, bypass_csp=True) as watched:
        watched.page.add_script_tag(content=axe)
        found = watched.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    return axe_script(tmp_path_factory.mktemp("axe"))


def test_headings_follow_each_other_and_pictures_have_words(chromium: Any, files: dict[str, Path]) -> None:
    for name in ("progress", "compare"):
        with opened(chromium, files[name], viewport=DESK) as watched:
            headings = "[...document.querySelectorAll('h1,h2,h3,h4')].map((one) => Number(one.tagName[1]))"
            levels = watched.page.evaluate(headings)
            assert levels[0] == 1 and all(b - a <= 1 for a, b in pairwise(levels))
            labels = watched.page.evaluate(
                "[...document.querySelectorAll('svg[role=img]')].map((one) => one.getAttribute('aria-label'))"
            )
            assert labels and all(len(label) > 20 for label in labels)


def select(watched: Watched, item: str, who: str, level: str, hold: int = 0) -> None:
    form = watched.page.locator("form.sheet").nth(hold)
    form.locator(f'tr[data-item="{item}"] [name="{who}"]').select_option(level)


def grade_all(watched: Watched, who: str, level: str) -> None:
    form = watched.page.locator("form.sheet").first
    for item in form.locator("tr[data-item]").evaluate_all("(rows) => rows.map((row) => row.dataset.item)"):
        select(watched, item, who, level)


def save(watched: Watched, folder: Path) -> Path:
    with watched.page.expect_download() as download:
        watched.page.locator("form.sheet").first.get_by_role("button", name="Save").click()
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


def test_the_pilot_grades_first(sheet: Watched) -> None:
    form = sheet.page.locator("form.sheet").first
    other = form.locator('[name="other"]').first
    assert other.is_disabled()
    grade_all(sheet, "own", "4")
    assert other.is_enabled()
    select(sheet, "altitude", "own", "")
    assert other.is_disabled()
    form.get_by_label("the pilot is not here").check()
    assert other.is_enabled() and form.locator('[name="own"]').first.is_disabled()


def test_what_the_page_saves_goes_into_the_logbook(sheet: Watched, tmp_path: Path) -> None:
    _, document = debriefed(holds=2, given=False)
    form = sheet.page.locator("form.sheet").first
    form.get_by_label("Pilot", exact=True).fill("Zoë <b>Ñandú")
    form.get_by_label("Instructor", exact=True).fill("Ilja Moor")
    form.get_by_label("Lesson").fill("IR 7")
    grade_all(sheet, "own", "4")
    select(sheet, "altitude", "other", "2")
    form.get_by_label("Altitude: remark").fill('low in the "turn"')
    path = save(sheet, tmp_path)
    assert re.fullmatch(r"[\w-]+-hold1-grades\.json", path.name)
    read = read_sheet(path)
    assert read.log_sha256 == document["log"]["sha256"] and read.date == "2026-03-14"
    assert {one.item for one in grades_of(read) if one.given_as == "instructor"} == {"altitude"}
    with Logbook.open(tmp_path / "logbook.sqlite") as book:
        book.record(document, pilot="zoë <B>ñandú")
        kept = keep_sheet(book, path)
        back = book.session("last")
    assert kept == len(back.grades) == form.locator("tr[data-item]").count() + 1
    assert back.lesson == "IR 7"
    assert back.standing_grades()[1, "altitude", "instructor"].remark == 'low in the "turn"'
    shown = json.loads(path.read_text(encoding="utf-8"))
    computed = {one.item: one.computed_points for one in back.grades}
    for line in shown["items"]:
        if line["computed_points"] is not None:
            assert computed[line["item"]] == pytest.approx(line["computed_points"], abs=0.051)


def test_below_standard_without_a_remark_is_not_saved(sheet: Watched, tmp_path: Path) -> None:
    form = sheet.page.locator("form.sheet").first
    form.get_by_label("Pilot", exact=True).fill("Ada Vane")
    select(sheet, "bank", "own", "2")
    form.get_by_role("button", name="Save").click()
    said = form.locator(".sheet-said")
    assert "below the grade asked for" in said.inner_text()
    remark = form.locator('tr[data-item="bank"] [name="remark"]')
    assert remark.get_attribute("aria-invalid") == "true"
    assert remark.evaluate("(one) => one === document.activeElement")
    remark.fill("too shallow, both turns")
    assert save(sheet, tmp_path).exists()
    assert remark.get_attribute("aria-invalid") is None


def test_grades_without_a_name_are_not_saved(sheet: Watched) -> None:
    form = sheet.page.locator("form.sheet").first
    form.get_by_role("button", name="Save").click()
    assert "No grade" in form.locator(".sheet-said").inner_text()
    select(sheet, "bank", "own", "4")
    form.get_by_role("button", name="Save").click()
    assert "pilot's name" in form.locator(".sheet-said").inner_text()


def test_another_scale_changes_levels_and_proposals(sheet: Watched, tmp_path: Path) -> None:
    form = sheet.page.locator("form.sheet").first
    form.get_by_label("Scale").select_option("learner-centred")
    options = form.locator('tr[data-item="bank"] [name="own"] option').all_inner_texts()
    assert options == ["", "Describe", "Explain", "Practise", "Perform"]
    points = float(form.locator('tr[data-item="bank"] td').first.inner_text())
    proposed = form.locator('tr[data-item="bank"] .proposed').inner_text()
    level = load_scale("learner-centred").propose(points)
    assert level is not None and proposed == level.label
    form.get_by_label("Pilot", exact=True).fill("Ada Vane")
    select(sheet, "bank", "own", "perform")
    assert read_sheet(save(sheet, tmp_path)).levels == ("describe", "explain", "practise", "perform")


def test_each_hold_has_a_sheet_of_its_own(sheet: Watched) -> None:
    assert sheet.page.locator("form.sheet").count() == 2
    select(sheet, "bank", "own", "4", hold=1)
    assert (
        sheet.page.locator("form.sheet").first.locator('tr[data-item="bank"] [name="own"]').input_value()
        == ""
    )


def test_without_a_script_the_sheet_can_still_be_filled_in(chromium: Any, files: dict[str, Path]) -> None:
    with opened(chromium, files["debrief"], viewport=DESK, java_script_enabled=False) as watched:
        watched.page.locator(".grade_sheet > summary").first.click()
        form = watched.page.locator("form.sheet").first
        form.locator('tr[data-item="bank"] [name="other"]').select_option("4")
        form.get_by_label("Pilot", exact=True).fill("Ada Vane")
        assert not form.get_by_role("button", name="Save").is_visible()


def test_the_sheet_prints_alone_to_be_signed(sheet: Watched, tmp_path: Path) -> None:
    form = sheet.page.locator("form.sheet").first
    form.get_by_label("Pilot", exact=True).fill("Ada Vane")
    select(sheet, "bank", "own", "4")
    form.get_by_label("Bank in the turns: remark").fill("steady from the second on")
    form.get_by_label("print this sheet alone").check()
    text = _printed(sheet, tmp_path / "sheet.pdf")
    assert text.count("\f") == 1, "one page"
    for word in (
        "grade sheet",
        "Ada Vane",
        "steady from the second on",
        "Instructor",
        "4 effective",
        "Altitude",
    ):
        assert word in text
    assert "qualified instructor" not in text
    form.get_by_label("print this sheet alone").uncheck()
    whole = _printed(sheet, tmp_path / "whole.pdf")
    assert "qualified instructor" in whole and "Grade asked for" not in whole


@pytest.mark.parametrize("name", ["progress", "compare"])
def test_the_page_prints(chromium: Any, files: dict[str, Path], name: str, tmp_path: Path) -> None:
    with opened(chromium, files[name], viewport=DESK) as watched:
        text = _printed(watched, tmp_path / "page.pdf")
    assert "not for navigation" in " ".join(text.split()) and "Altitude" in text


def _printed(watched: Watched, path: Path) -> str:
    if shutil.which("pdftotext") is None:
        lacking("no pdftotext on this machine: install the distribution's package 'poppler-utils'")
    watched.page.pdf(path=str(path), prefer_css_page_size=True)
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True, text=True)
    return done.stdout
