"""Every page on a small portfolio, on a build that read nothing, and without a build."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Open

PAGES = (
    "overview", "burning_now", "failure_trends", "wasted_energy", "business_case", "calls_behind", "what_was_read",
)  # fmt: skip


@pytest.mark.parametrize("page", PAGES)
def test_page_opens_on_the_small_portfolio(open_page: Open, small_folder: Path, page: str) -> None:
    app = open_page(small_folder, page)
    print(page, len(app.title), len(app.dataframe), [one.proto.body[:200] for one in app.get("html")][1:3])


@pytest.mark.parametrize("page", PAGES)
def test_page_opens_on_a_build_that_read_nothing(open_page: Open, empty_folder: Path, page: str) -> None:
    open_page(empty_folder, page)
