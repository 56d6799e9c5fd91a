"""The ``dayburn`` command."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Annotated

import typer

import pipeline
from pipeline import terminal
from pipeline.build import build as build_portfolio
from pipeline.build import current_database, previous_store, rehearsal
from pipeline.cli_exit import tells_faults
from pipeline.cli_options import (
    AcceptLayout,
    AsJson,
    AsRegister,
    Columns,
    DatesRead,
    Export,
    Folder,
    Reader,
    Source,
    named_columns,
)
from pipeline.demo import lay_out_demo
from pipeline.faults import InputFaults
from pipeline.numerals import counted
from pipeline.plain_text import never_fail_on
from pipeline.portfolio import Portfolio, as_typed
from pipeline.setting_terms import is_currency_code, is_known_zone
from pipeline.store import Store
from pipeline.summary import Summary, build_summary, check_summary, json_text
from pipeline.summary_text import show_summary
from pipeline.template import lay_out
from pipeline.tie.tellers import use_processes
from pipeline.windows import SiteWindows

app = typer.Typer(
    help=(
        "Turn a lighting maintenance call log into failure curves of its controls, the energy wasted by lamps that "
        "burn by day, and a priced replacement case. A portfolio is a folder: start with `dayburn demo`."
    ),
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


@app.command(short_help="Build the invented demo portfolio and show the figures.")
@tells_faults
def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to put it.")] = Path("dayburn-demo"),
) -> None:
    """Copy the invented demo portfolio to DIR, build it, and show the figures that matter."""
    lay_out_demo(folder)
    _build_and_show(folder, as_json=False)


@app.command(short_help="Lay out an empty portfolio folder.")
@tells_faults
def new(
    folder: Folder,
    currency: Annotated[str, typer.Option(help="ISO 4217 code, such as USD.")] = "USD",
    time_zone: Annotated[
        str, typer.Option(help="IANA time zone of the sites, such as America/Denver.")
    ] = "Etc/UTC",
) -> None:
    """Lay out an empty portfolio folder: settings page, register headers, folders for calls and layouts."""
    if not is_known_zone(time_zone):
        raise InputFaults.one(
            "--time-zone", f"'{time_zone}' is not an IANA time zone.", "Example: America/Denver."
        )
    if not is_currency_code(currency):
        raise InputFaults.one(
            "--currency", f"'{currency}' is not an ISO 4217 code: three capital letters.", "Example: USD."
        )
    lay_out(folder, currency, time_zone)
    terminal.say(
        f"Made {folder}. Next: read your first export with `dayburn layout {as_typed(folder)} FILE`, or in the "
        f"browser with `dayburn dashboard {as_typed(folder)}`."
    )


@app.command(short_help="Show, or accept, how an export is read.")
@tells_faults
def layout(
    folder: Folder,
    file: Export,
    accept: AcceptLayout = False,
    register: AsRegister = None,
    date_order: DatesRead = None,
    column: Columns = None,
    source: Source = None,
) -> None:
    """Show how an export's columns would be read; --accept saves that for every file with the same header."""
    from pipeline.intake_actions import Told, propose
    from pipeline.intake_actions import accept as accept_file

    portfolio = Portfolio.read(folder)
    columns = {name: tuple(theirs) for name, theirs in named_columns(column or []).items()}
    told = Told(date_order.value if date_order else None, columns, source)
    proposal = propose(file, portfolio, register.value if register else "calls", told)
    for line in proposal.lines():
        terminal.say(line)
    typed = as_typed(folder)
    if not accept:
        as_register = f" --as {register.value}" if register else ""
        terminal.say(
            f"Nothing was saved. To accept: `dayburn layout {typed} {as_typed(file)}{as_register} --accept`."
        )
        return
    accepted = accept_file(portfolio, file, proposal)
    terminal.say(f"Saved {accepted.layout}.")
    terminal.say(
        (f"Copied the file to {accepted.file}. " if accepted.copied else "")
        + f"Next: `dayburn build {typed}`."
    )


@app.command(short_help="Read DIR and compute every figure.")
@tells_faults
def build(folder: Folder, as_json: AsJson = False) -> None:
    """Read everything in DIR, compute every table, and show the figures that matter."""
    _build_and_show(folder, as_json)


@app.command(short_help="Say what the data support; change nothing.")
@tells_faults
def check(folder: Folder, as_json: AsJson = False) -> None:
    """Say what the data in DIR support and what is wrong in them, changing nothing."""
    with terminal.progress() as progress, rehearsal(folder, progress) as store:
        summary = check_summary(store)
    _show(summary, as_json)


@app.command(short_help="Show, or accept, when each site's calls were kept.")
@tells_faults
def windows(
    folder: Folder,
    accept: Annotated[
        bool, typer.Option("--accept", help="Write the proposed windows to windows.csv.")
    ] = False,
) -> None:
    """Show which sites' calls leave silences that chance does not explain; --accept writes their windows of record."""
    from pipeline.window_file import FILE, write_windows
    from pipeline.windows import proposed

    with terminal.progress() as progress, rehearsal(folder, progress) as store:
        proposal = proposed(store)
    _say_windows(proposal)
    typed = as_typed(folder)
    if accept:
        rows = write_windows(folder / FILE, proposal)
        terminal.say(f"Wrote {counted(rows, 'row')} to {folder / FILE}. Next: `dayburn build {typed}`.")
    elif proposal:
        terminal.say(f"Nothing was saved. To accept: `dayburn windows {typed} --accept`.")


@app.command(short_help="Open the dashboard in a browser.")
@tells_faults
def dashboard(
    folder: Folder,
    port: Annotated[int, typer.Option(min=1, max=65_535, help="Port on this computer.")] = 8501,
    address: Annotated[
        str, typer.Option(help="Address to listen on; anything but localhost opens it to others.")
    ] = "localhost",
) -> None:
    """Open the dashboard of DIR's last build in a browser (this computer only, unless told otherwise)."""
    Portfolio.read(folder)  # one that was never built opens on the page Intake
    script = Path(str(files("dashboard"))) / "app.py"
    options = [f"--server.address={address}", f"--server.port={port}", "--browser.gatherUsageStats=false"]
    command = [sys.executable, "-m", "streamlit", "run", str(script), *options, "--", str(folder.resolve())]
    terminal.say(f"The dashboard opens at http://{address}:{port}. Stop it with Ctrl+C.")
    try:
        raise typer.Exit(subprocess.run(command, check=False).returncode)
    except KeyboardInterrupt:
        raise typer.Exit(0) from None


@app.command(short_help="Write an HTML page or a workbook.")
@tells_faults
def report(
    folder: Folder,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="File to write, ending .html or .xlsx.")],
    reader: Annotated[Reader, typer.Option("--for", help="Whose question comes first.")] = Reader.director,
) -> None:
    """Write the figures of DIR's last build as one HTML page or a workbook."""
    from xlsxwriter.exceptions import FileCreateError

    from pipeline.report import write_report

    store, before = Store.open(current_database(folder)), previous_store(folder)
    try:
        write_report(store, out, reader.value, before)
    except (OSError, FileCreateError) as error:
        system = error if isinstance(error, OSError) else error.args[0]
        raise InputFaults.one(
            str(out),
            f"cannot be written ({getattr(system, 'strerror', system)}).",
            "Close it if it is open elsewhere, or name another place.",
        ) from error
    finally:
        for opened in filter(None, (store, before)):
            opened.close()
    terminal.say(f"Wrote {out}.")


@app.command()
def version() -> None:
    """Print the version."""
    terminal.say(pipeline.__version__)


def main() -> None:
    """Run the command; usage errors exit with 2."""
    for stream in (sys.stdout, sys.stderr):
        never_fail_on(stream)
    use_processes()
    app()


def _build_and_show(folder: Path, as_json: bool) -> None:
    with terminal.progress() as progress:
        built = build_portfolio(folder, progress)
    store = Store.open(built.database)
    try:
        _show(build_summary(store, folder), as_json)
    finally:
        store.close()


def _show(summary: Summary, as_json: bool) -> None:
    if as_json:
        print(json_text(summary))
    else:
        show_summary(summary)


def _say_windows(proposal: Sequence[SiteWindows]) -> None:
    """The windows of record that the calls suggest, with their evidence."""
    if not proposal:
        terminal.say("The calls leave no silence that chance would not explain: nothing to propose.")
    for one in proposal:
        terminal.say(
            f"site {one.site_id}: {', '.join(f'{span.first} to {span.last}' for span in one.windows)}"
        )
        terminal.say(f"    {one.evidence}")


if __name__ == "__main__":
    main()
