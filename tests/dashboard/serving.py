"""A real dashboard server on a free port of this computer, and a real browser to look at it."""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import dashboard

APP = Path(dashboard.__file__).with_name("app.py")
PROJECT = APP.parents[1]
PATHS = (
    "", "burning-now", "failure-trends", "wasted-energy", "business-case", "next-year", "calls-behind", "review",
    "what-was-read", "intake",
)  # fmt: skip
BROWSER_FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


@contextlib.contextmanager
def server(folder: Path, log: Path) -> Iterator[str]:
    """Serve a portfolio as `dayburn dashboard` does; gives the address, and stops the server at the end."""
    port = _free_port()
    options = ["--server.address=localhost", f"--server.port={port}", "--server.headless=true"]
    options += ["--browser.gatherUsageStats=false"]
    command = [sys.executable, "-m", "streamlit", "run", str(APP), *options, "--", str(folder)]
    environment = {**os.environ, "PYTHONPATH": str(PROJECT)}
    environment.pop("DAYBURN_PORTFOLIO", None)
    with log.open("w") as output:
        process = subprocess.Popen(command, cwd=folder, env=environment, stdout=output, stderr=output)
        try:
            _wait_for(f"http://localhost:{port}/_stcore/health", process, log)
            yield f"http://localhost:{port}"
        finally:
            process.terminate()
            process.wait(timeout=20)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("localhost", 0))
        return int(probe.getsockname()[1])


def _wait_for(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(120):
        if process.poll() is not None:
            break
        with contextlib.suppress(OSError), urllib.request.urlopen(address, timeout=2) as answer:
            if answer.status == 200:
                return
        time.sleep(0.25)
    raise RuntimeError(f"the server did not start:\n{log.read_text()}")


@contextlib.contextmanager
def browser() -> Iterator[Any]:
    """A headless Chromium of this computer."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=list(BROWSER_FLAGS)
        )
        try:
            yield chromium
        finally:
            chromium.close()


def settle(page: Any) -> None:
    """Wait until the app has drawn everything it is going to draw."""
    page.wait_for_selector("[data-testid='stApp'] h1, .box", timeout=30_000)
    page.wait_for_function(
        "() => document.querySelector('[data-testid=\"stApp\"]')?.dataset.testScriptState === 'notRunning'"
        ' && !document.querySelector(\'[data-testid="stSkeleton"], [data-testid="stSpinner"]\')',
        timeout=30_000,
    )
    page.wait_for_timeout(400)
