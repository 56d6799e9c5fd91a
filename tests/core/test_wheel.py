"""What a wheel holds works in an empty folder: code, SQL, word lists, demo and dashboard all ship."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import small_portfolio

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, unpacked into a folder of its own (its dependencies are those of the test's environment)."""
    wheels, target = tmp_path_factory.mktemp("wheels"), tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
    subprocess.run(
        [*pip, "wheel", "--no-deps", "--no-build-isolation", "-w", str(wheels), str(ROOT)], check=True
    )
    (wheel,) = wheels.glob("dayburn-*.whl")
    zipfile.ZipFile(wheel).extractall(target)
    return target


def run(installed: Path, folder: Path, *arguments: str) -> str:
    """Run Python in ``folder`` with the installed packages first, away from the source tree."""
    environment = os.environ | {"PYTHONPATH": str(installed), "PYTHONSAFEPATH": "1"}
    result = subprocess.run(
        [sys.executable, *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stdout + result.stderr
    return result.stdout


def commands(installed: Path, folder: Path, *given: list[str]) -> None:
    """Several commands in one process: a fresh one for each would mostly load libraries anew."""
    script = (
        "import sys, json; from pipeline.cli import app\n"
        "for arguments in json.loads(sys.argv[1]): app(arguments, standalone_mode=False)"
    )
    run(installed, folder, "-c", script, json.dumps(given))


def test_a_portfolio_is_built_and_reported_from_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(small_portfolio.CALLS, encoding="utf-8")
    commands(
        installed,
        tmp_path,
        ["new", "p", "--time-zone", "America/Denver"],
        ["layout", "p", "orders.csv", "--accept"],
    )
    assert "6" in run(installed, tmp_path, "-m", "pipeline.cli", "build", "p")
    commands(
        installed,
        tmp_path,
        ["report", "p", "--out", "r.html"],
        ["report", "p", "--out", "r.xlsx"],
    )
    assert (tmp_path / "r.html").stat().st_size > 10_000
    assert (tmp_path / "r.xlsx").stat().st_size > 1_000


def test_the_demo_and_the_dashboard_ship(installed: Path, tmp_path: Path) -> None:
    script = (
        "import dashboard, demo_data, pipeline; from pathlib import Path;"
        "assert 'installed' in pipeline.__file__, pipeline.__file__;"
        "assert (demo_data.portfolio_folder() / 'layouts').is_dir();"
        "assert list((demo_data.portfolio_folder() / 'calls').glob('*.xlsx'));"
        "assert (Path(dashboard.__file__).parent / 'app.py').is_file();"
        "print(pipeline.__version__)"
    )
    assert run(installed, tmp_path, "-c", script).strip() == "0.1.0"
