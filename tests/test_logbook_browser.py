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
from analyser.logbook.classes import compare, readiness
from analyser.logbook.progress import learn, progress_of
from analyser.logbook.sheet import grades_of, keep_sheet, read_sheet
from analyser.pages.compare import compare_page
from analyser.pages.pilot_pages import progress_page, record_page
from analyser.pages.progress_files import Member, class_page
from analyser.rules.scales import load_scale
from tests.club import term
from tests.club.build import FIRST_DAY, filled_club
from tests.lacking import lacking
from tests.pages_browser import Watched, axe_script, opened
from tests.pages_fixture import debriefed, rendered

pytestmark = [pytest.mark.browser, pytest.mark.slow]

DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
TABLET = {"width": 768, "height": 1024}


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    with Logbook.open(filled_club(folder / "club.sqlite")) as book:
        sessions = book.sessions()
    progress = progress_of("Alma Brook", sessions, scale=load_scale(), on=FIRST_DAY.date().replace(month=3))
    scale, day = load_scale(), FIRST_DAY.date().replace(month=3)
    school = term.sessions()
    with Logbook.open(filled_club(folder / "trail.sqlite")) as book:
        book.corrected(by="Kim Ost", why="the wrong folder").move(sessions[0].key, pilot="Alma Brook")
        trail = book.trail()
    own = [one for one in sessions if one.pilot == "Alma Brook"]
    known = learn(school)
    members = []
    for pilot in known.marks:
        found = progress_of(pilot, school, scale=scale, on=day, experience=known)
        members.append(Member(found, readiness(found), f"{pilot}.html", f"record {pilot}.html"))
    texts = {
        "progress": progress_page(progress, card_file="card.html", hold_file="hold.toml"),
        "compare": compare_page(compare(school, scale), scale=scale),
        "club": compare_page(compare(sessions, scale), scale=scale),
        "record": record_page(progress, own, trail, progress_file="progress.html"),
        "class": class_page(members, on=day),
        "debrief": rendered(
            *debriefed(holds=2, given=False),
            filled={"instructor": 'Ilja "Moor"', "device": "<b>trainer</b>"},
        ),
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


PAGES = ["progress", "compare", "record", "class"]


@pytest.mark.parametrize("name", PAGES)
def test_the_page_asks_for_nothing_and_complains_of_nothing(
    chromium: Any, files: dict[str, Path], name: str
) -> None:
    with opened(chromium, files[name], viewport=DESK) as watched:
        assert watched.page.title().startswith("Holding")
        assert [url for url in watched.requests if not url.startswith("data:")] == [files[name].as_uri()]
        assert watched.complaints == []


@pytest.mark.parametrize("name", [*PAGES, "debrief"])
@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
def test_nothing_scrolls_sideways(
    chromium: Any, files: dict[str, Path], name: str, size: dict[str, int]
) -> None:
    with opened(chromium, files[name], viewport=size) as watched:
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@pytest.mark.parametrize("name", [*PAGES, "debrief"])
@pytest.mark.parametrize(
    ("paper", "size"), [("light", DESK), ("dark", TABLET), ("light", PHONE)], ids=["desk", "tablet", "phone"]
)
def test_the_accessibility_checker_finds_nothing(
    chromium: Any, files: dict[str, Path], name: str, paper: str, size: dict[str, int], axe: str
) -> None:
    with opened(chromium, files[name], viewport=size, color_scheme=paper, bypass_csp=True) as watched:
        watched.page.add_script_tag(content=axe)
        found = watched.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    return axe_script(tmp_path_factory.mktemp("axe"))


def test_headings_follow_each_other_and_pictures_have_words(chromium: Any, files: dict[str, Path]) -> None:
    for name in ("progress", "club", "record", "class"):
        with opened(chromium, files[name], viewport=DESK) as watched:
            headings = "[...document.querySelectorAll('h1,h2,h3,h4')].map((one) => Number(one.tagName[1]))"
            levels = watched.page.evaluate(headings)
            assert levels[0] == 1 and all(b - a <= 1 for a, b in pairwise(levels))
            labels = watched.page.evaluate(
                "[...document.querySelectorAll('svg[role=img]')].map((one) => one.getAttribute('aria-label'))"
            )
            assert bool(labels) == (name in ("progress", "club")) and all(len(label) > 20 for label in labels)


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
        kept = keep_sheet(book, path).count
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


def test_without_a_script_the_sheet_can_still_be_filled_in_and_printed(
    chromium: Any, files: dict[str, Path], tmp_path: Path
) -> None:
    with opened(chromium, files["debrief"], viewport=DESK, java_script_enabled=False) as watched:
        watched.page.locator(".grade_sheet > summary").first.click()
        form = watched.page.locator("form.sheet").first
        form.locator('tr[data-item="bank"] [name="other"]').select_option("4")
        form.get_by_label("Pilot", exact=True).fill("Ada Vane")
        assert not form.get_by_role("button", name="Save").is_visible()
        form.get_by_label("print this sheet alone").check()
        text = _printed(watched, tmp_path / "sheet.pdf")
        assert "Ada Vane" in text and "4 effective" in text


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


@pytest.mark.parametrize("name", PAGES)
def test_the_page_prints(chromium: Any, files: dict[str, Path], name: str, tmp_path: Path) -> None:
    with opened(chromium, files[name], viewport=DESK) as watched:
        text = _printed(watched, tmp_path / "page.pdf")
    assert "not for navigation" in " ".join(text.split()) and "ltitude" in text


@pytest.mark.parametrize("name", ["compare", "class"])
def test_a_class_of_sixty_prints_whole_and_breaks_between_rows(
    chromium: Any, files: dict[str, Path], name: str, tmp_path: Path
) -> None:
    with opened(chromium, files[name], viewport=DESK) as watched:
        text = _printed(watched, tmp_path / "page.pdf", layout=False)
        breaks = watched.page.evaluate(
            "() => { const media = [...document.styleSheets].flatMap((s) => [...s.cssRules])"
            ".filter((r) => r.media && r.media.mediaText === 'print').flatMap((r) => [...r.cssRules]);"
            " return media.filter((r) => r.selectorText === '.cards tr').map((r) => r.style.breakInside); }"
        )
    sheets = text.split("\f")
    first = " ".join(sheets[0].split())
    assert any(one.pilot.name in first for one in term.members()), "the table begins on the first sheet"
    for one in term.members():
        assert any(one.pilot.name in " ".join(sheet.split()) for sheet in sheets), (
            f"{one.pilot.name} is cut off"
        )
    assert breaks == ["avoid"] and 3 <= len(sheets) <= 18
    # The heading of the columns comes again on every sheet that the table runs over.
    assert sum("Pilot" in sheet and ("Timing" in sheet or "State" in sheet) for sheet in sheets) >= 2


@pytest.mark.parametrize(("name", "most"), [("compare", 12_000), ("class", 5_500), ("record", 6_500)])
def test_on_a_phone_a_row_is_one_line_that_opens_with_its_words(
    chromium: Any, files: dict[str, Path], name: str, most: int
) -> None:
    """Sixty pilots in a dozen screens, not in a hundred."""
    with opened(chromium, files[name], viewport=PHONE) as watched:
        page = watched.page
        assert page.evaluate("document.documentElement.scrollHeight") <= most
        row = page.locator("table.cards tbody tr").first
        folded = row.locator("td:visible").count()
        row.locator(".opens").click(position={"x": 200, "y": 8})
        assert row.locator("td:visible").count() > max(folded, 2)
        row.locator(".opens input").press("Space")
        assert row.locator("td:visible").count() == folded
        for one in page.locator(".opens input").all():
            one.evaluate("(box) => { box.checked = true; }")
        cells = page.locator("table.cards td:visible")
        boxes = cells.evaluate_all(
            "(all) => all.map((one) => one.getBoundingClientRect()).map((b) => [b.left, b.right])"
        )
        assert boxes and all(left >= 0 and right <= PHONE["width"] for left, right in boxes)
        label = cells.first.evaluate("(one) => getComputedStyle(one, '::before').content")
        assert label.split('"')[1]


def test_folding_is_for_phones_alone(chromium: Any, files: dict[str, Path]) -> None:
    with opened(chromium, files["compare"], viewport=DESK) as watched:
        assert watched.page.locator(".opens:visible").count() == 0
        cells = watched.page.locator("table.cards").first.locator("td")
        assert cells.count() == watched.page.locator("table.cards").first.locator("td:visible").count()


def test_the_method_is_folded_and_opens_by_keyboard(chromium: Any, files: dict[str, Path]) -> None:
    with opened(chromium, files["progress"], viewport=DESK) as watched:
        note = watched.page.locator("details.method").first
        assert not note.locator(".note").first.is_visible()
        note.locator("summary").focus()
        watched.page.keyboard.press("Enter")
        assert "95 in 100" in note.inner_text() or "95 of 100" in note.inner_text()


def test_what_the_command_line_said_is_filled_in(sheet: Watched) -> None:
    for hold in (0, 1):
        form = sheet.page.locator("form.sheet").nth(hold)
        assert form.get_by_label("Instructor", exact=True).input_value() == 'Ilja "Moor"'
        assert form.get_by_label("Aircraft or device").input_value() == "<b>trainer</b>"
        assert form.get_by_label("Pilot", exact=True).input_value() == ""


def test_what_was_typed_in_is_asked_about_and_survives_a_reload(sheet: Watched, tmp_path: Path) -> None:
    asked: list[str] = []
    sheet.page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    form = sheet.page.locator("form.sheet").first
    form.get_by_label("Pilot", exact=True).fill("Ada Vane")
    form.get_by_label("Scale").select_option("learner-centred")
    select(sheet, "bank", "own", "perform")
    form.get_by_label("Bank in the turns: remark").fill("steady")
    sheet.page.reload()
    assert asked == ["beforeunload"]
    form = sheet.page.locator("form.sheet").first
    assert form.get_by_label("Pilot", exact=True).input_value() == "Ada Vane"
    assert form.locator('tr[data-item="bank"] [name="own"]').input_value() == "perform"
    assert form.get_by_label("Bank in the turns: remark").input_value() == "steady"
    assert "not saved as a file yet" in form.locator(".sheet-said").text_content()
    save(sheet, tmp_path)
    sheet.page.reload()
    assert asked == ["beforeunload"], "saved: nothing is lost by leaving"


def test_what_is_long_is_shown_and_signed_whole(sheet: Watched, tmp_path: Path) -> None:
    words = " ".join(f"word{number}" for number in range(120))
    form = sheet.page.locator("form.sheet").first
    form.get_by_label("Lesson").fill(" ".join(f"lesson{number}" for number in range(12)))
    select(sheet, "bank", "own", "2")
    remark = form.get_by_label("Bank in the turns: remark")
    remark.fill(words)
    assert remark.evaluate("(one) => one.scrollHeight <= one.clientHeight + 3")
    form.get_by_label("print this sheet alone").check()
    text = " ".join(_printed(sheet, tmp_path / "sheet.pdf", layout=False).split())
    assert all(f"word{number}" in text for number in range(120))
    assert all(f"lesson{number}" in text for number in range(12)) and "2 minimally acceptable" in text
    for control in form.locator("select:visible, input:visible, textarea:visible").all():
        box = control.bounding_box()
        assert box is not None and box["x"] + box["width"] <= DESK["width"]


def test_on_a_phone_every_field_of_the_sheet_is_on_the_screen(chromium: Any, files: dict[str, Path]) -> None:
    with opened(chromium, files["debrief"], viewport=PHONE) as watched:
        form = _form(watched)
        boxes = form.locator("select, textarea, .sheet-names input").evaluate_all(
            "(all) => all.map((one) => one.getBoundingClientRect()).map((b) => [b.left, b.right, b.height])"
        )
        assert len(boxes) > 20
        assert all(left >= 0 and right <= PHONE["width"] and height >= 24 for left, right, height in boxes)


def _form(watched: Watched) -> Any:
    """The first grade sheet, its fold opened."""
    form = watched.page.locator("form.sheet").first
    form.evaluate("(one) => { const fold = one.closest('details'); if (fold) fold.open = true; }")
    return form


def _printed(watched: Watched, path: Path, *, layout: bool = True) -> str:
    if shutil.which("pdftotext") is None:
        lacking("no pdftotext on this machine: install the distribution's package 'poppler-utils'")
    watched.page.pdf(path=str(path), prefer_css_page_size=True)
    done = subprocess.run(
        ["pdftotext", *(["-layout"] if layout else []), path, "-"], capture_output=True, check=True, text=True
    )
    return done.stdout
