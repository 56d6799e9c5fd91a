"""The user guide names every setting, register column and command that exists."""

from __future__ import annotations

import re
from pathlib import Path

import typer
from pydantic import BaseModel

from pipeline.cli import app
from pipeline.day_settings import DetectionDelay, Schedule
from pipeline.emission_settings import EmissionFactor, GridLoss
from pipeline.register_columns import COLUMNS
from pipeline.settings import NamedCampaign, Settings
from pipeline.tariffs.form import DemandCharge, Tariff, TariffPeriod

GUIDE = (Path(__file__).parents[2] / "docs" / "user-guide.md").read_text(encoding="utf-8")
WORDS = set(re.findall(r"[a-z_0-9]{2,}", " ".join(re.findall(r"`([^`]+)`", GUIDE))))


def test_every_setting_is_explained() -> None:
    pages: list[type[BaseModel]] = [
        Settings,
        Tariff,
        TariffPeriod,
        DemandCharge,
        EmissionFactor,
        GridLoss,
        DetectionDelay,
        Schedule,
    ]
    for field in Settings.model_fields.values():
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            pages.append(field.annotation)
    names = {name for page in pages for name in page.model_fields}
    names |= {field.alias or name for name, field in NamedCampaign.model_fields.items()}
    assert sorted(names - WORDS) == []


def test_every_default_shown_is_the_default() -> None:
    shown = re.findall(r"`(assumptions|payback|prices)\.(\w+)` \| [^|]+\| ([\d.]+) \|", GUIDE)
    assert len(shown) > 12
    for page, name, default in shown:
        value = getattr(getattr(Settings.model_fields[page].default, name), "real", None)
        assert value is not None, name
        assert float(value) == float(default), name


def test_every_register_column_is_explained() -> None:
    columns = {column for register in COLUMNS.values() for column in register}
    assert sorted(columns - WORDS) == []


def test_every_command_is_listed() -> None:
    commands = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    listed = set(re.findall(r"`dayburn (\w+)", GUIDE))
    assert commands == listed
