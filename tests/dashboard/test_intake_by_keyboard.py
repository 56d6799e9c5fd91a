"""The page Intake in a real browser, without a mouse: every step from an export to its result and out again."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from core import small_portfolio
from serving import browser, server, settle

from pipeline.build import current_database
from pipeline.portfolio import Portfolio
from pipeline.removing import removable_files, removed_files

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        shutil.which("chromium") is None, reason="no Chromium on this computer: `apt install chromium`"
    ),
]
# One date fits both orders of day and month, so the page asks.
TICKETS = "Ticket,Raised,Building,Details\n" + "".join(
    f"{n},0{n}/0{n + 1}/2023,North Yard,Pole {n} light on all day\n" for n in range(1, 8)
)
FOCUSED = """() => {
  const at = document.activeElement, holds = ['MAIN', 'BODY', 'DIV'].includes(at.tagName);
  const name = holds ? '' : at.getAttribute('aria-label') || at.innerText || '';
  const labelled = at.closest('[data-testid=stRadio], [data-testid=stSelectbox]');
  const place = at.getBoundingClientRect();
  return {name: name.trim(), group: labelled ? labelled.innerText : '', ring: outlineOf(at),
          on_screen: at === document.body || (place.right > 0 && place.left < innerWidth)};
  function outlineOf(element) {
    for (let box = element, depth = 0; box && depth < 4; box = box.parentElement, depth += 1) {
      const style = getComputedStyle(box);
      if (style.boxShadow !== 'none' || (style.outlineStyle !== 'none' && style.outlineWidth !== '0px')) return true;
    }
    return false;
  }
}"""
WIDTH = "Math.max(document.documentElement.scrollWidth, document.querySelector('[data-testid=stMain]').scrollWidth)"


@pytest.fixture
def yards(tmp_path: Path) -> Path:
    """Two yards with registers and settings, without any export."""
    folder = small_portfolio.make(tmp_path / "yards")
    (folder / "calls" / "orders.csv").unlink()
    shutil.rmtree(folder / "layouts")
    return folder


@pytest.fixture
def page(yards: Path, tmp_path: Path) -> Iterator[Any]:
    width, height = 390, 844  # the narrower: what fits and is reached here is so on a desk
    with server(yards, tmp_path / "log.txt") as address, browser() as chromium:
        page = chromium.new_page(viewport={"width": width, "height": height})
        page.goto(f"{address}/intake")
        settle(page)
        yield page
        assert page.evaluate(WIDTH) <= width


def tab_to(page: Any, name: str) -> None:
    """Press Tab until the control of a name, or of a group with that label, has the focus and shows it."""
    for _ in range(80):
        page.keyboard.press("Tab")
        focused = page.evaluate(FOCUSED)
        assert focused["on_screen"], f"'{focused['name']}' has the focus beside the screen"
        if name in (*focused["name"].splitlines(), *focused["group"].splitlines()):
            assert focused["ring"], f"nothing shows that '{name}' has the focus"
            return
    raise AssertionError(f"'{name}' is not reached with Tab")


def press(page: Any, name: str, then: str) -> None:
    """Press a button with Enter; the page must say ``then``."""
    tab_to(page, name)
    page.keyboard.press("Enter")
    page.wait_for_selector(f"text={then}", timeout=60_000)
    settle(page)


def choose_first(page: Any, label: str) -> None:
    """Choose the first line of a box."""
    tab_to(page, label)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    settle(page)


def test_an_export_is_added_built_removed_and_put_back_without_a_mouse(
    page: Any, yards: Path, tmp_path: Path
) -> None:
    export = tmp_path / "tickets.csv"
    export.write_text(TICKETS, encoding="utf-8")
    with page.expect_file_chooser() as chooser:
        tab_to(page, "Upload")
        page.keyboard.press("Enter")
    chooser.value.set_files(export)
    page.wait_for_selector("text=Still to decide")
    settle(page)
    tab_to(page, "How this file writes dates")
    page.keyboard.press("Space")
    page.wait_for_selector("text=Still to decide", state="detached")
    settle(page)
    press(page, "Change which column is which", "Propose with these columns")
    tab_to(page, "Propose with these columns")
    press(page, "Confirm file 1 of 1", "Confirmed")
    press(page, "Build", '"Built"')
    assert current_database(yards).is_file()
    press(page, "Files of this portfolio", "File to remove")
    choose_first(page, "File to remove")
    press(page, "Remove", "is now removed/calls/tickets.csv")
    assert removed_files(Portfolio.read(yards)) == [yards / "removed" / "calls" / "tickets.csv"]
    page.wait_for_selector("text=File to put back")  # what was open stays open
    choose_first(page, "File to put back")
    press(page, "Put back", "is now calls/tickets.csv")
    assert removable_files(Portfolio.read(yards)) == [yards / "calls" / "tickets.csv"]
