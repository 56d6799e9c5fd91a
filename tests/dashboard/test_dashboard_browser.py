"""The real server in a real browser: no error box, no console error, no page wider than the screen."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from serving import PATHS, browser, server, settle

from pipeline.decision_file import read_decisions
from pipeline.report import write_report
from pipeline.store import Store

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        shutil.which("chromium") is None, reason="no Chromium on this computer: `apt install chromium`"
    ),
]
SCREENS = {"desk": (1280, 900), "phone": (390, 844)}
ERROR_BOX = "[data-testid='stException'], [data-testid='stAlertContentError']"
WIDTH = "Math.max(document.documentElement.scrollWidth, document.querySelector('[data-testid=stMain]').scrollWidth)"


@pytest.fixture(scope="module")
def address(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with server(small_folder, tmp_path_factory.mktemp("server") / "log.txt") as started:
        yield started


@pytest.fixture(scope="module")
def demo_address(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with server(demo_folder, tmp_path_factory.mktemp("server") / "log.txt") as started:
        yield started


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as started:
        yield started


class Visit:
    """A browser tab that remembers every error it was told of."""

    def __init__(self, chromium: Any, width: int, height: int) -> None:
        self.page = chromium.new_context(viewport={"width": width, "height": height}).new_page()
        self.errors: list[str] = []
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("requestfailed", lambda request: self.errors.append(f"failed: {request.url}"))
        self.page.on("request", lambda request: self._asked(request.url))

    def _heard(self, message: Any) -> None:
        if message.type == "error" and not self._is_deep_link_probe(message):
            self.errors.append(message.text)

    @staticmethod
    def _is_deep_link_probe(message: Any) -> bool:
        """Opened at a page's own address, Streamlit looks for its server below that address first."""
        return "404" in message.text and "/_stcore/" in message.location.get("url", "")

    def _asked(self, url: str) -> None:
        if not url.startswith(("http://localhost:", "data:", "blob:")):
            self.errors.append(f"asked another computer: {url}")


def test_every_page_draws_without_errors_and_fits_a_phone_and_then_a_desk(
    chromium: Any, demo_address: str
) -> None:
    visit = Visit(chromium, *SCREENS["phone"])
    for path in PATHS:
        for width, height in (SCREENS["phone"], SCREENS["desk"]):
            visit.page.set_viewport_size({"width": width, "height": height})
            if (width, height) == SCREENS["phone"]:
                visit.page.goto(f"{demo_address}/{path}")
            settle(visit.page)
            assert visit.page.locator(ERROR_BOX).count() == 0, path
            assert visit.page.locator("h1").count() == 1, path
            assert visit.page.evaluate(WIDTH) <= width, (path, width)
    assert visit.errors == []
    visit.page.context.close()


def test_filters_stay_when_the_reader_turns_to_another_page(chromium: Any, address: str) -> None:
    visit = Visit(chromium, *SCREENS["desk"])
    visit.page.goto(f"{address}/?site=south&from=2024-01-01&to=2024-06-30")
    settle(visit.page)
    visit.page.get_by_role("link", name="Wasted energy").click()
    visit.page.wait_for_selector("h1:has-text('Wasted energy')")
    settle(visit.page)
    assert "South Yard" in visit.page.locator(".scope").inner_text()
    assert "site=south" in visit.page.url
    assert "from=2024-01-01" in visit.page.url
    assert visit.errors == []
    visit.page.context.close()


def test_the_crew_list_prints_as_a_plain_table_without_menus(chromium: Any, address: str) -> None:
    visit = Visit(chromium, *SCREENS["desk"])
    visit.page.goto(f"{address}/burning-now")
    settle(visit.page)
    table = visit.page.locator(".only-print table.plain")
    assert not table.is_visible()
    visit.page.emulate_media(media="print")
    assert table.is_visible()
    assert table.locator("tbody tr").count() == 2
    for hidden in ("[data-testid='stSidebar']", "[data-testid='stDataFrame']", ".stDownloadButton"):
        assert not visit.page.locator(hidden).first.is_visible(), hidden
    visit.page.context.close()


def test_the_grid_offers_no_export_that_would_run_formulas(chromium: Any, address: str) -> None:
    visit = Visit(chromium, *SCREENS["desk"])
    visit.page.goto(f"{address}/calls-behind?figure=wasted_energy")
    settle(visit.page)
    visit.page.locator("[data-testid='stDataFrame']").hover()
    toolbar = visit.page.locator("[data-testid='stElementToolbar'] button")
    assert toolbar.count() > 0
    labels = [button.get_attribute("aria-label") or "" for button in toolbar.all() if button.is_visible()]
    assert labels
    assert not [label for label in labels if "ownload" in label]
    visit.page.context.close()


def test_the_business_case_prints_every_group_and_not_the_part_of_a_grid_in_view(
    chromium: Any, address: str
) -> None:
    visit = Visit(chromium, *SCREENS["desk"])
    visit.page.goto(f"{address}/business-case")
    settle(visit.page)
    printed = visit.page.locator(".only-print table.plain")
    assert [table.is_visible() for table in printed.all()] == [False, False]
    visit.page.emulate_media(media="print")
    assert [table.is_visible() for table in printed.all()] == [True, True]
    assert printed.nth(1).locator("tbody tr").count() == 2
    visit.page.context.close()


FOCUSED = "() => [document.activeElement.type || '', document.activeElement.innerText || '']"


def test_a_decision_can_be_taken_with_the_keyboard_alone(
    chromium: Any, small_folder: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(small_folder, tmp_path / "own"))
    with server(folder, tmp_path / "log.txt") as started:
        visit = Visit(chromium, *SCREENS["phone"])
        visit.page.goto(f"{started}/review")
        settle(visit.page)
        visit.page.get_by_role("textbox", name="Your name").focus()
        visit.page.keyboard.type("Rev")
        chosen = False
        for _ in range(120):
            visit.page.keyboard.press("Tab")
            kind, said = visit.page.evaluate(FOCUSED)
            group = visit.page.evaluate(
                "() => document.activeElement.closest('[data-testid=stRadio]')?.innerText || ''"
            )
            if kind == "radio" and "What is right?" in group:
                visit.page.keyboard.press("Space")
                chosen = True
            elif kind == "text" and chosen:
                visit.page.keyboard.type("saw it")
            elif said.startswith("Confirm for all of these"):
                visit.page.keyboard.press("Enter")
                break
        visit.page.wait_for_selector(".box:has-text('Written to decisions.csv')")
        settle(visit.page)
        assert visit.page.evaluate(WIDTH) <= SCREENS["phone"][0]
        assert visit.errors == []
        visit.page.context.close()
    (row,) = read_decisions(folder / "decisions.csv")
    assert (row.who, row.field, row.value, row.why) == ("Rev", "control_failed", "yes", "saw it")


@pytest.mark.parametrize("screen", SCREENS)
def test_a_report_fits_the_screen_whatever_its_longest_word(
    chromium: Any, small: Store, tmp_path: Path, screen: str
) -> None:
    width, height = SCREENS[screen]
    write_report(small, tmp_path / "report.html", "director")
    page = chromium.new_context(viewport={"width": width, "height": height}).new_page()
    page.goto((tmp_path / "report.html").as_uri())
    page.wait_for_selector("h1")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.context.close()
