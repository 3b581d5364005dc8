"""The page of `holdtime report`, as a reader meets it."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage, Watched
from tests.browser.made_page import HOSTILE, made_contents, write_page
from tests.cli.test_words import found_in
from thermal_model.judge.what_if.reduced import AskedState, hold_times
from thermal_model.report.page.contents import PageContents
from thermal_model.report.page.html import unbroken
from thermal_model.words.numbers import interval_texts

ZERO = 273.15


@pytest.fixture(scope="module")
def contents() -> PageContents:
    return made_contents(draws=4)


@pytest.fixture(scope="module")
def path(contents: PageContents, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_page(contents, tmp_path_factory.mktemp("page") / "page.html")


@pytest.fixture
def opened(open_page: OpenPage, path: Path) -> Iterator[Any]:
    """Open the page in a state, and hold it to its silence at the end."""
    seen: list[Watched] = []

    def at(state: str = "", **options: Any) -> Page:
        watched = open_page(f"{path}{state}", **options)
        watched.page.wait_for_function("document.documentElement.dataset.ready === 'all'")
        seen.append(watched)
        return watched.page

    yield at
    for watched in seen:
        assert watched.said == []
        assert watched.asked_of_others == []


@pytest.mark.parametrize("width", [1280, 360])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_and_has_nothing_serious_against_it(opened: Any, width: int, scheme: str) -> None:
    page = opened(width=width, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in ("serious", "critical")] == []
    assert page.locator("svg[role=img]").count() > 6


CUT_OR_CROSSED = """() => [...document.querySelectorAll('.chart svg, .charts svg')].flatMap((svg) => {
  const edge = svg.getBoundingClientRect(), texts = [...svg.querySelectorAll('text')].filter((one) => one.textContent);
  const boxes = texts.map((text) => [text, text.getBoundingClientRect()]);
  const isCut = (b) => b.left < edge.left - 1 || b.right > edge.right + 1 || b.bottom > edge.bottom + 1;
  const common = (a, b, low, high) => Math.min(a[high], b[high]) - Math.max(a[low], b[low]);
  const isCrossed = (a, others) =>
    others.some(([, b]) => common(a, b, 'left', 'right') > 1 && common(a, b, 'top', 'bottom') > 3);
  return boxes.filter(([, box], i) => isCut(box) || isCrossed(box, boxes.slice(i + 1))).map(([one]) => one.textContent);
})"""


@pytest.mark.parametrize("width", [1280, 720, 360])
def test_no_text_of_a_chart_is_cut_or_crosses_another(opened: Any, width: int) -> None:
    page = opened(width=width)
    assert page.evaluate(CUT_OR_CROSSED) == []
    names = page.locator("#panel-chart text").all_text_contents()
    # A name that is too long keeps its end, in which names that are alike differ.
    assert HOSTILE in names or any("…" in name and name.endswith(HOSTILE[-4:]) for name in names)


def test_no_table_is_wider_than_a_narrow_screen(opened: Any) -> None:
    """Each row is a list there, every cell beside its heading; the table stays one for a screen reader."""
    page = opened(width=360)
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    wide = "[...document.querySelectorAll('.wide')].filter(one => one.scrollWidth > one.clientWidth).length"
    assert page.evaluate(wide) == 0
    cell = page.locator("#holds td").first
    assert cell.evaluate("one => getComputedStyle(one, '::before').content") == '"holds for"'
    assert page.get_by_role("table").count() == page.locator("table").count()


def test_print_holds_every_table(opened: Any, path: Path, tmp_path: Path) -> None:
    page = opened()
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.locator("table").count() == page.locator("table:visible").count() > 6
    found = Axe().run(page).response["violations"]
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    page.pdf(path=tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").stat().st_size > 20_000


def test_names_stay_text(opened: Any) -> None:
    page = opened()
    assert page.evaluate("window.broken") is None
    assert page.locator("img").count() == 0
    assert HOSTILE in page.locator("#first option").all_inner_texts()
    assert HOSTILE in page.locator("h2, p.said").all_inner_texts()[0]


def test_it_speaks_plainly(opened: Any) -> None:
    page = opened()
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    assert found_in(page.locator("body").inner_text()) == []


STATES = (
    AskedState(273.15 + 92.0, 278.15, 333.15, share=1.0),
    AskedState(273.15 + 71.5, 295.15, 320.15, share=0.5),
    AskedState(273.15 + 88.0, 293.15, 328.15, fill=300e-6, every=1800.0),
    AskedState(277.15, 299.15, 285.15, share=0.75, every=3600.0),
)


@pytest.mark.parametrize("state", STATES, ids=str)
def test_the_panel_says_what_the_reduced_model_does(opened: Any, contents: PageContents, state: AskedState) -> None:
    side = contents.what_if.hot if state.start > state.room else contents.what_if.cold
    asked = {**vars(state), "side": side.side.name}
    page = opened()
    shown = page.evaluate("asked => window.holdtime.answer(asked).standings.map(s => [s.name, [...s.times]])", asked)
    assert {name for name, _ in shown} == set(side.tables)
    for name, times in shown:
        expected = hold_times(side.side, side.grids, side.tables[name], state)
        assert np.isfinite(expected).all()
        np.testing.assert_allclose(times, expected, rtol=1e-5)


def test_the_panel_ranks_as_the_ranking_does(opened: Any, contents: PageContents) -> None:
    """Under the conditions of the ranking: within 1 % or a minute, and its ranges within 3 %."""
    page = opened()
    shown = page.evaluate(
        "window.holdtime.answer({side: 'hot', start: 363.15, room: 293.15, limit: 333.15, fill: 3e-4, "
        "share: 1, every: null}).standings.map(s => [s.name, s.low, s.middle, s.high, s.tier])"
    )
    for (name, low, middle, high, tier), standing in zip(shown, contents.rankings["hot"].standings, strict=True):
        assert (name, tier) == (standing.entry.name, standing.tier)
        assert abs(middle - standing.centre) <= max(0.01 * standing.centre, 60.0)
        assert (low, high) == pytest.approx(standing.interval, rel=0.03)


def test_by_keyboard(opened: Any) -> None:
    page = opened()
    before = page.locator("#answer").inner_text()
    page.locator("#room").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    assert page.locator("#room").get_attribute("aria-valuetext") == "22\N{NO-BREAK SPACE}°C"
    expect(page.locator("#answer")).to_contain_text("room 22 °C")
    assert page.locator("#answer").inner_text() != before
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "start"
    assert "room=22C" in page.url


def test_by_pointer(opened: Any) -> None:
    page = opened(width=360, height=740)
    page.get_by_label("cold", exact=True).click()
    expect(page.locator("#answer")).to_contain_text("below 10 °C")
    page.get_by_label("Fill", exact=True).select_option("half")
    expect(page.locator("#answer")).to_contain_text("Each 50 % full")
    page.get_by_label("Lid off").select_option("3600")
    expect(page.locator("#answer")).to_contain_text("lid off for 30 s every hour")
    page.get_by_role("button", name="Back to the conditions").click()
    expect(page.locator("#answer")).to_contain_text("300 mL")


def test_an_address_holds_a_state(opened: Any) -> None:
    page = opened("#room=5C&fill=full")
    expect(page.locator("#answer")).to_contain_text("Each full, poured in at 90 °C, room 5 °C.")
    assert page.locator("#room").input_value() == "5"
    page.locator("#start").focus()
    page.keyboard.press("ArrowLeft")
    again = opened(f"#{page.url.partition('#')[2]}")
    expect(again.locator("#answer")).to_contain_text("Each full, poured in at 89.5 °C, room 5 °C.")


@pytest.mark.parametrize(
    ("state", "says"),
    [
        ("#room=55C", "rooms of -5 to 40 °C, not 55 °C"),
        ("#limit=89C", "at least 3 K from the start"),
        ("#limit=27C", "at least 10 K from the room"),
        ("#contents=cold&start=15C", "1 to 10 °C, not 15 °C"),
        ("#fill=10%25", "fills from 30 %"),
        ("#room=warm&colour=1", "does not understand: room=warm, colour=1"),
        ("#fill=5L", "No container can be filled like that"),
    ],
)
def test_outside_of_what_it_knows_it_says_so(opened: Any, state: str, says: str) -> None:
    page = opened(state)
    expect(page.locator("#answer")).to_contain_text(says)
    if "understand" not in says:
        assert page.locator("#panel-chart svg").count() == 0


@pytest.mark.parametrize(
    "times",
    [
        (21540.0, 27000.0, 33000.0),
        (4000.0, 5000.0, 6100.0),
        (86000.0, 172000.0, 180000.0),
        (90000.0, 1.9e5, np.inf),
        (900.0, 9e4, 2e5),
    ],
    ids=str,
)
def test_the_panel_rounds_as_a_ranking_does(opened: Any, times: tuple[float, float, float]) -> None:
    script = "([low, middle, high]) => Object.values(window.holdtime.rangeOf({low, middle, high: high ?? Infinity}))"
    shown = opened().evaluate(script, [*times[:2], times[2] if np.isfinite(times[2]) else None])
    assert tuple(shown) == tuple(map(unbroken, interval_texts(*times, never="longer than can be told")))


@pytest.mark.parametrize(
    ("times", "says"),
    [((12.0, 41.0, 95.0), ("under 1 min", "1 min", "2 min")), ((310.0, 330.0, 333.0), ("5 min", "6 min", "6 min"))],
)
def test_the_panel_tells_no_seconds(opened: Any, times: tuple[float, ...], says: tuple[str, ...]) -> None:
    """Its tables know no better than a minute where a hold is short."""
    shown = opened().evaluate(
        "([low, middle, high]) => Object.values(window.holdtime.rangeOf({low, middle, high}))", list(times)
    )
    assert tuple(shown) == tuple(map(unbroken, says))


def test_short_ranges_are_marked(opened: Any) -> None:
    page = opened("#room=0C&start=90C&limit=87C")
    expect(page.locator("#panel-notes")).to_contain_text("Ranges that begin within 5 min are told to within a minute")
    assert "under 1 min to under 1 min" not in page.locator("body").inner_text().replace("\N{NO-BREAK SPACE}", " ")
    assert (
        "within a minute"
        not in opened("#contents=cold&room=18C&limit=12C&fill=full").locator("#panel-notes").inner_text()
    )


def test_two_drawings_stand_side_by_side_at_one_scale(opened: Any) -> None:
    boxes = (
        "[...document.querySelectorAll('#pair-drawings svg')].map(s => [s.getBoundingClientRect(), s.viewBox.baseVal])"
    )
    shown = f"{boxes}.map(([box, view]) => [box.width / view.width, box.bottom, box.right])"
    (scale, foot, _), (other, other_foot, right) = opened(width=360).evaluate(shown)
    assert other == pytest.approx(scale, rel=1e-3)
    assert other_foot == pytest.approx(foot, abs=1.0)
    assert right <= 360


def test_one_container_is_compared_with_none(open_page: OpenPage, contents: PageContents, tmp_path: Path) -> None:
    alone = {name: replace(ranking, standings=ranking.standings[:1]) for name, ranking in contents.rankings.items()}
    watched = open_page(str(write_page(replace(contents, rankings=alone, pairs={}), tmp_path / "one.html")))
    watched.page.wait_for_function("document.documentElement.dataset.ready === 'all'")
    assert watched.said == []
    assert watched.page.locator("#why, a[href='#why']").count() == 0
    said = watched.page.locator("header").inner_text()
    assert "how long its container holds" in said
    assert "stays above" in said
    assert "longest" not in said


def test_why_takes_any_two(opened: Any) -> None:
    page = opened()
    expect(page.locator("#pair-text")).to_contain_text("holds")
    chart = page.locator("#pair-chart svg")
    assert chart.count() == 1
    page.get_by_label("beside", exact=True).select_option(page.locator("#first").input_value())
    expect(page.locator("#pair-text")).to_have_text("Choose two containers.")
    assert chart.count() == 0
