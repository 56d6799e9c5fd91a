"""A build of a whole folder: what it gives, and what it leaves alone when it fails."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import small_portfolio
from typer.testing import CliRunner

from pipeline.build import build, current_database, previous_database, rehearsal
from pipeline.cautions import CAUTION
from pipeline.cli import app
from pipeline.faults import InputFaults
from pipeline.store import Store
from pipeline.summary import _finite, build_summary, check_summary, json_text
from pipeline.summary_text import show_summary
from pipeline.tables import TABLES

RUN = CliRunner()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_portfolio.make(tmp_path / "yards")


@pytest.fixture
def built(tmp_path: Path) -> Path:
    """The same, with its first build."""
    return small_portfolio.made_built(tmp_path / "yards")


def all_rows(database: Path) -> dict[str, list[tuple[object, ...]]]:
    store = Store.open(database)
    rows = {table.name: sorted(store.rows(f'FROM "{table.name}"'), key=repr) for table in TABLES}
    store.close()
    return rows


def listing(folder: Path) -> dict[str, tuple[int, int]]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path): (path.stat().st_size, path.stat().st_mtime_ns) for path in files}


def test_every_row_is_accounted_for_and_every_check_holds(built: Path) -> None:
    rows = all_rows(current_database(built))
    assert [check[:2] for check in rows["checks"] if not check[1]] == []
    assert len(rows["calls"]) == 5
    assert len(rows["rejected_rows"]) == 1


def test_the_fault_is_followed_from_call_to_life_energy_and_options(built: Path) -> None:
    store = Store.open(current_database(built))
    (incident,) = store.rows(
        "SELECT incident_id, calls, control_failed, failure_mode FROM incidents WHERE control_id = 'PC-0001'"
    )
    assert incident[1:] == (2, True, "fails on")
    lives = store.rows(
        "SELECT failed, end_reason, entry_days > 0 FROM lives WHERE control_id = 'PC-0001' ORDER BY entered_on"
    )
    assert lives == [(True, "fails on", True), (False, "in service", False)]
    hours, kwh, watts = store.row(
        "SELECT excess_hours_central, kwh_central, connected_w FROM burn_episodes WHERE incident_id = ?",
        [incident[0]],
    )
    assert watts == 200.0
    assert float(kwh) == pytest.approx(hours * 0.2)
    # 14 days of assumed delay and 4 until the work: about 11.5 h of daylight a day at 40 degrees north in March
    assert hours == pytest.approx(18 * 11.3, rel=0.1)
    assert store.value("SELECT count(*) FROM burn_episodes WHERE kwh_per_day > 0") == 1
    assert store.value("SELECT count(DISTINCT option) FROM options") == 2
    store.close()


def test_the_same_folder_builds_the_same_tables(built: Path) -> None:
    first = all_rows(current_database(built))
    for path in (built / "built").iterdir():
        path.unlink()
    assert all_rows(build(built).database) == first


def test_a_build_that_fails_leaves_the_last_good_one(built: Path) -> None:
    good = current_database(built)
    (built / "controls.csv").write_text("control_id,site\nA,B\n", encoding="utf-8")
    with pytest.raises(InputFaults, match="column 'site'"):
        build(built)
    assert current_database(built) == good
    assert sorted(path.name for path in (built / "built").iterdir()) == sorted([good.name, "current", "lock"])


def test_faults_of_every_page_and_register_are_told_together(built: Path) -> None:
    pages = {
        "windows.csv": "site_id,observed_from,observed_to\nS1,2022-01-01,2021-01-01\n",
        "decisions.csv": "when,who,target,key,field,value,why\nyesterday,R,call,x,is_lighting,yes,saw\n",
        "controls.csv": "control_id,site\nA,B\n",
        "calls/other.csv": "Some,Header\n1,2\n",
    }
    for name, text in pages.items():
        (built / name).write_text(text, encoding="utf-8")
    with pytest.raises(InputFaults) as told:
        build(built)
    assert {fault.where.split(",")[0] for fault in told.value.faults} == set(pages)


def add_a_call(folder: Path, number: int) -> None:
    with (folder / "calls" / "orders.csv").open("a", encoding="utf-8") as file:
        file.write(
            f"{number},2022-06-01 09:00,2022-06-02 10:00,Closed,South Yard,PC-0003,"
            "Pole light on all day,Replaced photocell\n"
        )


def test_a_new_build_replaces_the_old_database_and_keeps_just_one_to_compare_with(built: Path) -> None:
    first = current_database(built)
    assert previous_database(built) is None
    add_a_call(built, 107)
    second = build(built)
    assert second.build_id != first.stem
    assert (current_database(built), previous_database(built)) == (second.database, first)
    assert build(built).database == second.database  # the same inputs again: still the same two
    assert previous_database(built) == first
    add_a_call(built, 108)
    third = build(built)
    assert (current_database(built), previous_database(built)) == (third.database, second.database)
    assert not first.exists()


def test_what_people_decide_and_how_they_judge_make_another_build(built: Path) -> None:
    names = {current_database(built).stem}
    (built / "decisions.csv").write_text(
        "when,who,target,key,field,value,why\n2024-01-02,R,call,101,is_lighting,no,indoors\n",
        encoding="utf-8",
    )
    names.add(build(built).build_id)
    (built / "verdicts.toml").write_text(
        'format = 1\norigin = "tests"\n[[verdict]]\nprobability = 0.5\nwhy = "coin"\n', encoding="utf-8"
    )
    names.add(build(built).build_id)
    assert len(names) == 3


def test_check_changes_nothing_and_shows_the_same_result(folder: Path) -> None:
    before = listing(folder)
    with rehearsal(folder) as store:
        assert store.count("calls") == 5
    assert listing(folder) == before


def test_registers_and_exports_are_faulted_together(folder: Path) -> None:
    (folder / "sites.csv").write_text("site_id,latitude\nS1,north\nS2,1\n", encoding="utf-8")
    (folder / "calls" / "other.csv").write_text("A,B\n1,2\n", encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        build(folder)
    assert {fault.where.split(",")[0].split("/")[-1] for fault in caught.value.faults} == {
        "sites.csv",
        "other.csv",
    }


class TestCommand:
    def run(self, *arguments: str | Path, code: int = 0) -> str:
        result = RUN.invoke(app, [str(argument) for argument in arguments])
        assert result.exit_code == code, result.output
        return result.output

    @pytest.mark.parametrize("command", ["build", "check", "dashboard"])
    def test_a_missing_folder_is_named_with_what_to_do(self, tmp_path: Path, command: str) -> None:
        assert "dayburn new" in self.run(command, tmp_path / "nowhere", code=1)

    def test_a_folder_without_exports_says_where_they_go(self, tmp_path: Path) -> None:
        self.run("new", tmp_path / "p")
        output = self.run("build", tmp_path / "p", code=1)
        assert "holds no export" in output

    def test_new_then_layout_then_build_needs_nothing_else(self, tmp_path: Path) -> None:
        export = tmp_path / "orders.csv"
        export.write_text(small_portfolio.CALLS, encoding="utf-8")
        portfolio = tmp_path / "p"
        self.run("new", portfolio, "--time-zone", "America/Denver")
        assert "Nothing was saved" in self.run("layout", portfolio, export)
        self.run("layout", portfolio, export, "--accept")
        output = self.run("build", portfolio)
        assert "no life can be fitted" in output.replace(
            "\n", " "
        ) or "no rate and no life" in output.replace("\n", " ")
        assert "controls.csv" in output

    def test_a_person_can_say_which_column_is_which(self, folder: Path, tmp_path: Path) -> None:
        export = tmp_path / "odd.csv"
        export.write_text("Ref,Zeit,Blurb\n1,2021-03-01 09:00,pole light on all day\n", encoding="utf-8")
        assert "--column" in self.run("layout", folder, export, "--accept", code=1)
        named = ("--column", "reported_at=Zeit", "--column", "problem_text=Blurb", "--source", "orders")
        assert "Zeit" in self.run("layout", folder, export, "--accept", *named)
        self.run("build", folder)
        store = Store.open(current_database(folder))
        assert store.rows("SELECT source FROM calls WHERE problem_text = 'pole light on all day'") == [
            ("orders",)
        ]
        store.close()

    def test_a_column_option_that_is_not_one_is_named(self, folder: Path) -> None:
        export = folder / "calls" / "orders.csv"
        assert "is not FIELD=COLUMN" in self.run("layout", folder, export, "--column", "reported_at", code=1)

    def test_an_unknown_layout_names_the_command(self, folder: Path) -> None:
        (folder / "calls" / "other.csv").write_text("When,What\n2020-01-01,light out\n", encoding="utf-8")
        assert "dayburn layout" in self.run("build", folder, code=1)

    @pytest.mark.parametrize("content", [b"", b"\x00\x01\x02" * 200])
    def test_an_empty_or_binary_export_is_named(self, folder: Path, content: bytes) -> None:
        (folder / "calls" / "odd.csv").write_bytes(content)
        assert "odd.csv" in self.run("build", folder, code=1)

    def test_a_settings_typo_is_named_with_its_likely_meaning(self, folder: Path) -> None:
        page = folder / "portfolio.toml"
        page.write_text(
            page.read_text(encoding="utf-8").replace("default_tariff", "defualt_tariff"), encoding="utf-8"
        )
        assert "Did you mean 'default_tariff'?" in self.run("build", folder, code=1)

    def test_wrong_usage_exits_2(self) -> None:
        self.run("report", "somewhere", code=2)

    def test_demo_never_overwrites_a_folder_that_is_not_the_demo(self, folder: Path) -> None:
        before = listing(folder)
        assert "is not the demo" in self.run("demo", folder, code=1)
        assert listing(folder) == before


def test_current_names_only_a_database_that_exists(built: Path) -> None:
    current_database(built).unlink()
    with pytest.raises(InputFaults, match="has not been built yet"):
        current_database(built)


@pytest.fixture
def built_store(built: Path) -> Iterator[Store]:
    store = Store.open(current_database(built))
    yield store
    store.close()


def test_a_summary_that_sends_people_to_equipment_carries_the_cautions(
    built_store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    show_summary(build_summary(built_store, Path("yards")))
    assert CAUTION in capsys.readouterr().out
    show_summary(check_summary(built_store))
    assert CAUTION not in capsys.readouterr().out


def test_json_of_a_build_holds_what_its_text_says(built_store: Store) -> None:
    result = json.loads(json_text(build_summary(built_store, Path("yards"))))
    assert result["files"][0]["rows_read"] == 6
    assert set(result) == {"files", "level", "checks", "notices", "log", "headline", "next_steps"}


def test_json_of_a_figure_without_a_limit_is_still_json() -> None:
    assert json.dumps(_finite({"a": float("inf"), "b": [float("nan"), 1.0]}), allow_nan=False) == (
        '{"a": null, "b": [null, 1.0]}'
    )
