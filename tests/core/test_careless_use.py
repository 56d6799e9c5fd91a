"""Odd command lines and folders: one clear sentence, exit 1, nothing harmed."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import small_portfolio
from typer.testing import CliRunner

import demo_data
from pipeline import demo
from pipeline.build import build, current_database
from pipeline.cli import app
from pipeline.faults import InputFaults
from pipeline.portfolio import Portfolio
from pipeline.store import Store

RUN = CliRunner()
ACTS = "\x1b[31m\x07\u202e"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_portfolio.make(tmp_path / "yards")


@pytest.fixture(scope="module")
def built_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_portfolio.made_built(tmp_path_factory.mktemp("built") / "yards")


def told(*arguments: str | Path) -> str:
    """The one sentence with which a command refuses."""
    result = RUN.invoke(app, [str(argument) for argument in arguments])
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit), result.exception
    lines = [line for line in result.stderr.splitlines() if not line.endswith(" ...")]
    assert len(lines) == 1, lines
    assert lines[0].startswith("dayburn: ")
    return lines[0]


class TestFileWhereAFolderIsMeant:
    @pytest.mark.parametrize("command", ["demo", "new", "build", "check", "dashboard"])
    def test_is_named(self, tmp_path: Path, command: str) -> None:
        file = tmp_path / "notes.txt"
        file.write_text("keep me", encoding="utf-8")
        assert "notes.txt: is not a folder." in told(command, file)
        assert file.read_text(encoding="utf-8") == "keep me"

    def test_is_named_by_layout(self, folder: Path) -> None:
        export = folder / "calls" / "orders.csv"
        assert "orders.csv: is not a folder." in told("layout", export, export)

    @pytest.mark.parametrize("command", ["demo", "new"])
    def test_is_named_above_the_folder_too(self, tmp_path: Path, command: str) -> None:
        (tmp_path / "notes.txt").write_text("", encoding="utf-8")
        assert "notes.txt" in told(command, tmp_path / "notes.txt" / "sub")

    @pytest.mark.parametrize("command", ["demo", "new"])
    def test_a_link_to_nowhere_is_named(self, tmp_path: Path, command: str) -> None:
        (tmp_path / "link").symlink_to(tmp_path / "nowhere")
        assert "link: is not a folder." in told(command, tmp_path / "link")

    @pytest.mark.parametrize("part", ["calls", "layouts", "cache", "built"])
    def test_is_named_inside_a_portfolio(self, tmp_path: Path, part: str) -> None:
        portfolio = tmp_path / "p"
        RUN.invoke(app, ["new", str(portfolio)])
        if (portfolio / part).exists():
            (portfolio / part).rmdir()
        (portfolio / part).write_text("", encoding="utf-8")
        assert f"{part}: is not a folder." in told("build", portfolio)


@pytest.mark.parametrize("name", ["portfolio.toml", "sites.csv", "layouts/orders.toml"])
def test_a_folder_where_a_file_is_meant_is_named(folder: Path, name: str) -> None:
    (folder / name).unlink()
    (folder / name).mkdir()
    assert f"{name}" in told("build", folder)


@pytest.mark.parametrize("command", ["new", "build", "demo"])
def test_a_name_that_is_too_long_is_told(tmp_path: Path, command: str) -> None:
    assert "cannot be used" in told(command, tmp_path / ("n" * 300))


class TestReport:
    @pytest.mark.parametrize(
        ("out", "said"),
        [
            ("nowhere/x.html", "is not a folder"),
            ("x.pdf", "must end in .html or .xlsx"),
            ("x", "must end in .html or .xlsx"),
        ],
    )
    def test_a_place_that_cannot_be_is_told(
        self, built_folder: Path, tmp_path: Path, out: str, said: str
    ) -> None:
        assert said in told("report", built_folder, "--out", tmp_path / out)

    @pytest.mark.parametrize("ending", ["html", "xlsx"])
    def test_a_folder_of_that_name_is_told(self, built_folder: Path, tmp_path: Path, ending: str) -> None:
        (tmp_path / f"x.{ending}").mkdir()
        assert "cannot be written" in told("report", built_folder, "--out", tmp_path / f"x.{ending}")

    def test_a_damaged_database_or_pointer_is_told(self, tmp_path: Path) -> None:
        folder = small_portfolio.made_built(tmp_path / "yards")
        database = current_database(folder)
        database.write_bytes(b"\x01" * 5000)
        assert "cannot be opened as a database" in told("report", folder, "--out", tmp_path / "x.html")
        (folder / "built" / "current").write_bytes(b"\xff\xfe")
        assert "has not been built yet" in told("report", folder, "--out", tmp_path / "x.html")


@pytest.fixture
def unprivileged() -> Iterator[None]:
    """Somebody who is not the system's owner, to whom permissions apply."""
    if not hasattr(os, "geteuid"):
        pytest.skip("this system has no user ids to give up")
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


class TestPermission:
    @pytest.mark.parametrize("command", ["build", "check", "new", "demo", "dashboard"])
    def test_a_folder_that_may_not_be_read_is_told(
        self, tmp_path: Path, unprivileged: None, command: str
    ) -> None:
        # For the system's owner, pytest's own folder is what nobody else may enter.
        if os.getuid() != 0:
            (tmp_path / "closed").mkdir(mode=0o000)
        assert "Permission denied" in told(command, tmp_path / "closed" / "yards")

    def test_a_folder_that_may_not_be_written_is_told(self, unprivileged: None) -> None:
        folder = Path(tempfile.mkdtemp())  # pytest's own folders are closed to others
        try:
            with _as_owner():
                small_portfolio.make(folder / "yards")
                for path in [folder, *folder.rglob("*")]:
                    path.chmod(0o555 if path.is_dir() else 0o444)
            sentence = told("build", folder / "yards")
            assert "built: cannot be used (Permission denied)" in sentence
            export = folder / "yards" / "calls" / "orders.csv"
            assert "Permission denied" in told("layout", folder / "yards", export, "--accept")
        finally:
            with _as_owner():
                for path in [folder, *folder.rglob("*")]:
                    path.chmod(0o755)
                shutil.rmtree(folder)


@contextmanager
def _as_owner() -> Iterator[None]:
    """As the user who runs the tests."""
    now = os.geteuid()
    os.seteuid(os.getuid())
    try:
        yield
    finally:
        os.seteuid(now)


class TestCurrency:
    @pytest.mark.parametrize("code", ["U$1", "usd", "US", "USDX", "ÄÖÜ", "USD\n", ""])
    def test_what_is_no_iso_4217_code_is_refused_everywhere(
        self, tmp_path: Path, folder: Path, code: str
    ) -> None:
        assert "is not an ISO 4217 code" in told("new", tmp_path / "p", "--currency", code)
        assert not (tmp_path / "p").exists()
        page = folder / "portfolio.toml"
        text = page.read_text(encoding="utf-8").replace('"USD"', json.dumps(code, ensure_ascii=False))
        page.write_text(text, encoding="utf-8")
        assert "setting currency: " in told("build", folder)


class TestDemo:
    def test_a_changed_demo_is_named_file_by_file_and_kept(self, tmp_path: Path) -> None:
        folder = tmp_path / "demo"
        demo.lay_out_demo(folder)
        demo.lay_out_demo(folder)  # unchanged: nothing to say
        (folder / "sites.csv").write_text("site_id\nMINE\n", encoding="utf-8")
        (folder / "layouts" / "requests.toml").unlink()
        sentence = told("demo", folder)
        assert "(layouts/requests.toml, sites.csv)" in sentence
        assert "`dayburn build" in sentence
        assert (folder / "sites.csv").read_text(encoding="utf-8") == "site_id\nMINE\n"
        assert not (folder / "layouts" / "requests.toml").exists()

    def test_changed_settings_are_kept(self, tmp_path: Path) -> None:
        demo.lay_out_demo(tmp_path / "demo")
        page = tmp_path / "demo" / "portfolio.toml"
        page.write_text(page.read_text(encoding="utf-8") + "\n# mine\n", encoding="utf-8")
        with pytest.raises(InputFaults, match=r"changed \(portfolio.toml\)"):
            demo.lay_out_demo(tmp_path / "demo")

    def test_an_empty_folder_is_filled_and_a_second_call_changes_nothing(self, tmp_path: Path) -> None:
        demo.lay_out_demo(tmp_path)
        shipped = demo_data.portfolio_folder()
        for path in shipped.rglob("*"):
            if path.is_file():
                assert (tmp_path / path.relative_to(shipped)).read_bytes() == path.read_bytes()
        (tmp_path / "decisions.csv").write_text("", encoding="utf-8")
        demo.lay_out_demo(tmp_path)
        assert (tmp_path / "decisions.csv").exists()


class TestTerminal:
    def odd_calls(self, folder: Path) -> Path:
        odd = folder / "calls" / f"a :warning: [red]{ACTS}.csv"
        (folder / "calls" / "orders.csv").rename(odd)
        odd.write_text(small_portfolio.CALLS.replace("Open", f"[bold]:bell:{ACTS}"), encoding="utf-8")
        return odd

    def test_text_from_data_is_shown_as_it_is_and_cannot_act(self, folder: Path) -> None:
        self.odd_calls(folder)
        result = RUN.invoke(app, ["build", str(folder)])
        assert result.exit_code == 0, result.output
        for stream in (result.stdout, result.stderr):
            assert ":warning: [red]\\x1b[31m\\x07\\u202e.csv" in stream
            assert not set(ACTS) & set(stream) - set("[31m")
        assert "[bold]:bell:\\x1b[31m\\x07\\u202e" in result.stdout

    def test_faults_cannot_act_either(self, folder: Path) -> None:
        (folder / "calls" / f"b{ACTS}.csv").write_text("A,B\n1,2\n", encoding="utf-8")
        sentence = told("build", folder)
        assert "b\\x1b[31m\\x07\\u202e.csv" in sentence

    @pytest.mark.parametrize("command", ["build", "check"])
    def test_json_stands_alone_on_standard_output(self, folder: Path, command: str) -> None:
        self.odd_calls(folder)
        run = subprocess.run(
            [sys.executable, "-m", "pipeline.cli", command, str(folder), "--json"],
            capture_output=True, check=True, cwd=Path(__file__).parents[2],
        )  # fmt: skip
        assert json.loads(run.stdout)["files"][0]["rows_read"] == 6
        assert b"Reading the registers" in run.stderr

    def test_a_narrow_encoding_gets_a_stand_in_instead_of_a_traceback(self, built_folder: Path) -> None:
        program = (
            "import sys; from pipeline.plain_text import never_fail_on; never_fail_on(sys.stdout);"
            "from pipeline import terminal; terminal.say('12\\u202f087 \\u2212 1 \\u2192 \\u00e9')"
        )
        run = subprocess.run(
            [sys.executable, "-c", program], capture_output=True, check=True,
            env=os.environ | {"PYTHONIOENCODING": "ascii"}, cwd=Path(__file__).parents[2],
        )  # fmt: skip
        assert run.stdout.decode("ascii").strip() == "12 087 - 1 ? ?"


class TestFolders:
    def test_what_systems_leave_in_a_folder_is_no_export(self, folder: Path) -> None:
        calls = folder / "calls"
        for name in (".DS_Store", "~$orders.xlsx", ".~lock.orders.csv#", "Thumbs.db", "desktop.ini"):
            (calls / name).write_bytes(b"x")
        for name in (".git/HEAD", "__MACOSX/_orders.csv", "2021/.hidden/x.csv"):
            (calls / name).parent.mkdir(parents=True)
            (calls / name).write_bytes(b"x")
        assert [path.name for path in Portfolio.read(folder).export_files()] == ["orders.csv"]

    def test_linked_folders_are_read_and_a_circle_ends(self, folder: Path, tmp_path: Path) -> None:
        elsewhere = tmp_path / "elsewhere"
        elsewhere.mkdir()
        (folder / "calls" / "orders.csv").rename(elsewhere / "orders.csv")
        (folder / "calls" / "older").symlink_to(elsewhere)
        (elsewhere / "back").symlink_to(folder / "calls")
        assert [path.name for path in Portfolio.read(folder).export_files()] == ["orders.csv"]

    def test_a_link_to_an_export_that_is_gone_is_told(self, folder: Path) -> None:
        (folder / "calls" / "gone.csv").symlink_to(folder / "nowhere.csv")
        assert "gone.csv" in told("build", folder)

    @pytest.mark.skipif(sys.platform != "linux", reason="only there may a file name be bytes of any kind")
    def test_a_file_name_that_is_not_text_is_told(self, folder: Path) -> None:
        odd = os.fsdecode(os.fsencode(folder / "calls") + b"/o\xff.csv")
        Path(odd).write_text(small_portfolio.CALLS.replace("101,", "901,"), encoding="utf-8")
        assert "o\\udcff.csv" in told("build", folder)

    def test_windows_line_ends_and_byte_order_marks_change_nothing(self, folder: Path) -> None:
        def lives() -> list[tuple[object, ...]]:
            store = Store.open(build(folder).database)
            rows = store.rows("SELECT control_id, entered_on, ended_on FROM lives ORDER BY ALL")
            store.close()
            return rows

        before = lives()
        for path in [*folder.glob("*.toml"), *folder.glob("*.csv"), *folder.glob("layouts/*")]:
            text = path.read_bytes().replace(b"\n", b"\r\n")
            path.write_bytes(b"\xef\xbb\xbf" + text)
        assert lives() == before

    def test_commands_offered_can_be_typed_as_they_stand(self, tmp_path: Path) -> None:
        folder = small_portfolio.make(tmp_path / "Ünser Hof (alt)")
        result = RUN.invoke(app, ["build", str(folder)])
        assert result.exit_code == 0, result.output
        assert f"dayburn dashboard '{folder}'" in result.stdout
        assert "'" in told("report", small_portfolio.make(tmp_path / "b c"), "--out", tmp_path / "x.html")

    def test_a_folder_named_by_a_point_or_a_link_is_built(
        self, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        (tmp_path / "link").symlink_to(folder)
        monkeypatch.chdir(folder)
        assert RUN.invoke(app, ["build", "."]).exit_code == 0
        first = current_database(folder).name
        assert RUN.invoke(app, ["build", str(tmp_path / "link")]).exit_code == 0
        assert current_database(folder).name == first
        assert RUN.invoke(app, ["report", ".", "--out", "page.html"]).exit_code == 0
        assert (folder / "page.html").is_file()
