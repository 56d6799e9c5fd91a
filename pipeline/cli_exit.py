"""How a command ends where the input or the system needs a person: every fault on its own line, and exit code 1."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec

import typer

from pipeline import terminal
from pipeline.faults import InputFaults, system_fault

P = ParamSpec("P")


def tells_faults(command: Callable[P, None]) -> Callable[P, None]:
    """Exit 1 with every fault on its own line where the input needs a person."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except InputFaults as faults:
            terminal.print_faults(faults)
        except BrokenPipeError:
            raise  # nobody reads on: typer ends quietly
        except OSError as error:
            terminal.print_faults(InputFaults([system_fault(error)]))
        else:
            return
        raise typer.Exit(1)

    return run
