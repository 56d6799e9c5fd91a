"""What the portfolio's registers already know: sites by any of their names, controls by tag."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.portfolio import Portfolio


@dataclass(frozen=True)
class Known:
    """Keys of sites and controls: letters and digits only, in lower case."""

    sites: frozenset[str] = frozenset()
    controls: frozenset[str] = frozenset()


def key_of(text: str) -> str:
    """Letters and digits of a text, in lower case."""
    return re.sub(r"[\W_]+", "", text.lower())


def key_sql(expression: str) -> str:
    """SQL: the same as ``key_of``."""
    return rf"regexp_replace(lower({expression}), '[^\pL\pN]+', '', 'g')"


def read_known(portfolio: Portfolio) -> Known:
    """What the registers of sites and controls say, as far as they can be read: a fault in them the build tells."""
    from pipeline.registers import read_registers  # registers read their own layouts with this package

    registers = read_registers(portfolio)
    names = {
        name
        for row in registers["sites"].rows
        for name in (row["site_id"], row["name"], *(row["aliases"] or ()))
        if name
    }
    tags = {row["control_id"] for row in registers["controls"].rows if row["control_id"]}
    return Known(frozenset(map(key_of, names)), frozenset(map(key_of, tags)))
