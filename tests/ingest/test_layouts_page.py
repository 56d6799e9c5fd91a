"""docs/layouts.md against the code: its example is a real layout, its lists are complete."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from pipeline.ingest.fields import FIELDS
from pipeline.ingest.layouts import Layout

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "layouts.md").read_text(encoding="utf-8")


def test_the_example_is_a_whole_and_valid_layout() -> None:
    example = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert example is not None
    content = tomllib.loads(example[1])
    layout = Layout.model_validate(content)
    assert layout.faults("the page") == []
    assert set(content) == set(Layout.model_fields)


def test_every_field_is_explained() -> None:
    assert [field for field in FIELDS if f"`{field}`" not in PAGE] == []


def test_every_flag_that_the_code_sets_is_explained() -> None:
    folder = ROOT / "pipeline" / "ingest"
    code = (folder / "calls.sql").read_text(encoding="utf-8") + (folder / "parse.py").read_text(
        encoding="utf-8"
    )
    flags = set(re.findall(r"THEN\s+(?:'([a-z ]+)' END|\['([a-z ]+)'\])", code))
    flags = {flag or listed for flag, listed in flags}
    assert len(flags) >= 8
    assert {flag for flag in flags if f"| `{flag}` |" not in PAGE} == set()
