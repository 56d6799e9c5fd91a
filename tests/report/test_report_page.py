from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from figures.small_store import small_store

from pipeline import figures
from pipeline.faults import InputFaults
from pipeline.report import write_report
from pipeline.report.words import BOUNDARY, CAUTIONS, READERS
from pipeline.store import Store

FIRST_SECTION = {"director": "burning", "sustainability": "energy", "contractor": "savings"}


class Page(HTMLParser):
    """What a reader sees: text outside scripts and styles, and the ids and addresses in the page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self._hidden = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._hidden += tag in ("script", "style")
        for name, value in attrs:
            if name == "id" and value:
                self.ids.append(value)
            if name in ("href", "src") and value:
                self.links.append(value)

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)

    @property
    def text(self) -> str:
        """Visible text with runs of plain white space made one space."""
        return re.sub(r"[ \n\t]+", " ", "".join(self.words))


@pytest.fixture(scope="module")
def html(small: Store, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("pages")
    pages = {}
    for reader in READERS:
        path = folder / f"{reader}.html"
        write_report(small, path, reader)
        pages[reader] = path.read_text(encoding="utf-8")
    return pages


@pytest.mark.parametrize("reader", READERS)
def test_the_page_states_the_headline_figures_text_for_text(
    small: Store, html: dict[str, str], reader: str
) -> None:
    text = Page(html[reader]).text
    for figure in (*figures.headline(small), *figures.log_summary(small)):
        for part in figure.flat():
            assert part.label in text
            assert part.text() in text
        assert figure.note in text


@pytest.mark.parametrize("reader", READERS)
def test_each_readers_question_is_answered_first(html: dict[str, str], reader: str) -> None:
    ids = [name for name in Page(html[reader]).ids if name in set(FIRST_SECTION.values())]
    assert ids[0] == FIRST_SECTION[reader]


def test_every_reader_gets_the_same_sections(html: dict[str, str]) -> None:
    found = {reader: sorted(Page(page).ids) for reader, page in html.items()}
    assert found["director"] == found["sustainability"] == found["contractor"]


def test_what_is_lost_besides_energy_stands_in_the_sustainability_report(html: dict[str, str]) -> None:
    words = " ".join(Page(html["sustainability"]).words)
    for said in (
        "Also lost, apart from the energy",
        "Lamp life burnt",
        "Nights without light",
        "never set off against",
    ):
        assert said in words, said


def test_text_from_calls_names_and_checks_is_never_html(html: dict[str, str]) -> None:
    page = html["director"]
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(&#39;boo&#39;)&lt;/script&gt; lot lights on all day" in page
    assert "<test>" not in page
    assert "<b>differs" not in page
    assert "<script>alert('boo')</script> lot lights on all day" in unescape(page)


def test_the_page_needs_nothing_from_outside(html: dict[str, str]) -> None:
    page = Page(html["director"])
    assert all(link.startswith("#") for link in page.links)
    assert "default-src 'none'" in html["director"]
    assert "@import" not in html["director"].split("</style>")[0]


def test_every_link_leads_to_a_place_on_the_page(html: dict[str, str]) -> None:
    page = Page(html["director"])
    assert len(page.ids) == len(set(page.ids))
    for link in page.links:
        assert link.removeprefix("#") in page.ids


def test_plotly_is_included_once_and_only_where_there_are_charts(
    html: dict[str, str], empty: Store, tmp_path: Path
) -> None:
    assert html["director"].count("plotly.js v") == 1
    write_report(empty, tmp_path / "empty.html", "director")
    assert (tmp_path / "empty.html").stat().st_size < 100_000


def test_every_figure_names_the_incidents_and_calls_behind_it(html: dict[str, str]) -> None:
    text = Page(html["director"]).text
    assert "Behind it: 2 incidents, 2 calls" in text  # burning now
    assert "Behind it: 5 incidents, 6 calls" in text  # wasted energy
    assert "orders.csv" in text


def test_cautions_boundary_and_assumptions_stand_in_every_document(html: dict[str, str]) -> None:
    for page in html.values():
        text = Page(page).text
        assert BOUNDARY in text
        for caution in CAUTIONS:
            assert caution in text
        assert "assumptions.detection_delay_days" in text
        assert "Level 3: installation dates: lives." in text


@pytest.mark.parametrize("reader", READERS)
def test_an_empty_database_gives_a_page_that_says_so(empty: Store, tmp_path: Path, reader: str) -> None:
    path = tmp_path / "empty.html"
    write_report(empty, path, reader)
    text = Page(path.read_text(encoding="utf-8")).text
    assert "Level 0: no lighting calls" in text
    assert "not available" in text
    assert "nan" not in text.lower().split()


def test_the_same_build_gives_the_same_page(small: Store, tmp_path: Path, html: dict[str, str]) -> None:
    write_report(small, tmp_path / "again.html", "director")
    assert (tmp_path / "again.html").read_text(encoding="utf-8") == html["director"]


def test_wrong_endings_readers_and_folders_are_refused_saying_what_to_do(
    small: Store, tmp_path: Path
) -> None:
    with pytest.raises(InputFaults, match=r"\.html or \.xlsx"):
        write_report(small, tmp_path / "report.pdf", "director")
    with pytest.raises(InputFaults, match="contractor"):
        write_report(small, tmp_path / "report.html", "mayor")
    with pytest.raises(InputFaults, match="not a folder"):
        write_report(small, tmp_path / "nowhere" / "report.html", "director")
    assert list(tmp_path.iterdir()) == []


def test_a_build_that_lacks_what_this_version_asks_for_is_told_in_one_sentence(tmp_path: Path) -> None:
    older = small_store()
    older.run("DROP TABLE options")
    with pytest.raises(InputFaults, match=r"another version of dayburn.*`dayburn build`") as told:
        write_report(older, tmp_path / "report.html", "director")
    older.close()
    assert "\n" not in str(told.value)
    assert list(tmp_path.iterdir()) == []
