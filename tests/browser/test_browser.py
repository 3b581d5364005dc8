"""The watch itself: it sees what a page says and asks for, so that an empty list means something."""

from pathlib import Path

import pytest

from tests.browser.conftest import OpenPage

PAGE = """<!doctype html><html lang="en"><title>Trial</title><img src="http://example.invalid/a.png" alt="">
<script>console.log("hello " + location.hash); throw new Error("oops")</script>"""


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    path = tmp_path / "trial.html"
    path.write_text(PAGE, encoding="utf-8")
    return path


def test_what_a_page_says_and_asks_for_is_noted(open_page: OpenPage, trial: Path) -> None:
    watched = open_page(f"{trial}#a=1")
    assert watched.asked_of_others == ["http://example.invalid/a.png"]
    assert "log: hello #a=1" in watched.said
    assert "error: oops" in watched.said


def test_contexts_know_nothing_of_each_other(open_page: OpenPage, trial: Path) -> None:
    first = open_page(trial)
    first.page.evaluate("localStorage.setItem('a', '1')")
    assert open_page(trial, width=360, color_scheme="dark").page.evaluate("localStorage.getItem('a')") is None
