"""The example page in ``reports/`` is what the program writes today."""

from __future__ import annotations

from tests.example_page import EXAMPLE, alike, example


def test_the_example_page_is_up_to_date() -> None:
    kept = EXAMPLE.read_text(encoding="utf-8")
    assert alike(kept, example()), "write it again: python -m tests.example_page"


def test_another_word_or_another_line_makes_another_page() -> None:
    kept = EXAMPLE.read_text(encoding="utf-8")
    assert alike(kept, kept)
    assert not alike(kept, kept.replace("training aid", "training aide", 1))
    assert not alike(kept, kept.replace(' d="M', ' d="M-999 0L', 1))
    assert not alike(kept, kept.replace('<path fill="none"', '<path d="M0 0" fill="none"', 1))


def test_the_example_says_that_its_flight_is_invented_and_what_it_is_not_for() -> None:
    page = EXAMPLE.read_text(encoding="utf-8")
    assert "training aid" in page
    assert "This flight is invented" in page
    assert "qualified instructor decide" in page
