"""portfolio.toml: what it may say, and how its faults are told."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.settings import NamedCampaign, read_settings
from pipeline.template import lay_out

GOOD = 'format = 1\nname = "Fairmoor"\ncurrency = "EUR"\ntime_zone = "Europe/Madrid"\n'


def page(folder: Path, text: str) -> Path:
    path = folder / "portfolio.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults_of(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        read_settings(page(folder, text))
    return [str(fault) for fault in caught.value.faults]


def test_a_short_page_takes_every_default(tmp_path: Path) -> None:
    settings = read_settings(page(tmp_path, GOOD))
    assert settings.name == "Fairmoor"
    assert settings.assumptions.detection_delay_days == 14.0
    assert settings.privacy.mask_free_text


def test_a_misspelt_setting_is_named_with_its_likely_meaning(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, GOOD + "[assumptions]\ndetection_delay_day = 9\n")
    assert "setting assumptions.detection_delay_day" in fault
    assert "Did you mean 'detection_delay_days'?" in fault


@pytest.mark.parametrize(
    ("extra", "meant"),
    [
        (
            '[tariffs.x]\ntaxes_included = true\nperiods = [{nam = "a", name = "a", price_per_kwh = 1}]\n',
            "name",
        ),
        ("[tariffs.x]\ntaxes_include = true\nprice_per_kwh = 1\n", "taxes_included"),
        ("[tariffs.x]\nprice_per_kwh = 1\ndemand = {price_per_kw_month = 1, hour = []}\n", "hours"),
        ('[[emissions.X]]\nkg_co2e_per_kwh = 1\nyears = 2023\nyear = 2023\nsource = "made up"\n', "year"),
    ],
)
def test_a_misspelt_setting_deep_in_the_page_is_named_too(tmp_path: Path, extra: str, meant: str) -> None:
    faults = faults_of(tmp_path, GOOD + extra)
    assert any(f"Did you mean '{meant}'?" in fault for fault in faults), faults


def test_all_faults_of_the_page_come_at_once(tmp_path: Path) -> None:
    text = 'format = 1\nname = ""\ncurrency = "euro"\ntime_zone = "Mars/Base"\n[payback]\nyears = 0\n'
    faults = faults_of(tmp_path, text)
    assert len(faults) == 4
    for setting in ("name", "currency", "time_zone", "payback.years"):
        assert any(f"setting {setting}:" in fault for fault in faults), setting


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        ("[log]\nstart = 2020-01-01\nend = 2019-01-01\n", "not before end"),
        ('default_tariff = "night"\n', "not among [tariffs]"),
        (
            'emission_edition = "eGRID1999"\n',
            "not an edition that is shipped (eGRID2022, eGRID2023, UK2025)",
        ),
        ("[tariffs.day]\nprice_per_kwh = -1\n", "tariffs.day.price_per_kwh"),
        ('[prices.control_cost]\n"photo cell" = 3\n', "prices.control_cost"),
        ("format = 1\n", "not valid TOML"),
        ("prices = 4\n", "setting prices: is a section, not a value (found 4). Write [prices] above it."),
        ("[tariffs]\nflat = 3\n", "setting tariffs.flat: is a section"),
        (
            '[[campaigns]]\nname = "A"\nfrom = 2022-02-01\nto = 2022-01-01\n',
            "campaigns.0: from 2022-02-01 is after to",
        ),
        ('[[campaigns]]\nname = "A"\nfrom = 2022-02-01\n', "campaigns.0.to: is missing"),
        (
            '[[campaigns]]\nname = "A"\nfrom = 2022-02-01\nto = 2022-03-01\n' * 2,
            "two [[campaigns]] are named 'A'",
        ),
        ("[assumptions]\nspares_service_level = 1\n", "assumptions.spares_service_level"),
    ],
)
def test_other_faults_name_their_place(tmp_path: Path, extra: str, said: str) -> None:
    assert any(said in fault for fault in faults_of(tmp_path, GOOD + extra))


def test_a_campaign_is_kept_as_it_was_written(tmp_path: Path) -> None:
    text = '[[campaigns]]\nname = "Summer"\nsites = ["S1"]\nfrom = 2023-06-01\nto = 2023-08-31\n'
    (campaign,) = read_settings(page(tmp_path, GOOD + text)).campaigns
    assert (campaign.name, campaign.sites, str(campaign.first), str(campaign.last)) == (
        "Summer", ("S1",), "2023-06-01", "2023-08-31",
    )  # fmt: skip
    assert NamedCampaign.model_validate_json(campaign.model_dump_json()) == campaign


def test_a_missing_page_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="dayburn new"):
        read_settings(tmp_path / "portfolio.toml")


def test_a_page_that_is_not_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "portfolio.toml").write_bytes(b"\xff\xfe\x00name")
    with pytest.raises(InputFaults, match="UTF-8"):
        read_settings(tmp_path / "portfolio.toml")


def test_delays_by_kind_of_day_name_their_days(tmp_path: Path) -> None:
    extra = '[detection_delays.summer]\ndays = ["06-05 to 08-14"]\nweekdays = ["mon"]\ndelay_days = 25\n'
    delay = read_settings(page(tmp_path, GOOD + extra)).detection_delays["summer"]
    assert (delay.days, delay.weekdays, delay.delay_days) == (("06-05 to 08-14",), ("mon",), 25)
    (fault,) = faults_of(tmp_path, GOOD + extra.replace("06-05", "06-31"))
    assert "06-31' is not a day of the calendar" in fault
    (fault,) = faults_of(tmp_path, GOOD + "[detection_delays.summer]\ndelay_days = 25\n")
    assert "says on no days that it holds" in fault


def test_faults_of_tariffs_come_with_all_others(tmp_path: Path) -> None:
    periods = '{name = "a", price_per_kwh = 0.2, hours = ["06:00 to 20:00"]}'
    text = (
        GOOD.replace('"EUR"', '"euro"')
        + f"[tariffs.gap]\ntaxes_included = true\nperiods = [{periods}]\n"
        + f"[tariffs.odd]\ntaxes_included = true\nperiods = [{periods.replace('20:00', '25:00')}]\n"
        + '[tariffs.season]\nperiods = [{name = "a", price_per_kwh = -1, days = ["02-31"]}]\n'
    )
    faults = faults_of(tmp_path, text)
    for said in (
        "currency", "tariffs.gap: 00:00 to 06:00", "tariffs.gap: 20:00 to 24:00", "'25:00' is no time of a day",
        "'02-31' is not a day of the calendar", "tariffs.season.periods.0.price_per_kwh",
    ):  # fmt: skip
        assert any(said in fault for fault in faults), (said, faults)


def test_every_line_that_a_new_page_comments_out_may_stand_in_it(tmp_path: Path) -> None:
    lay_out(tmp_path / "new", "EUR", "Europe/Madrid")
    lines = (tmp_path / "new" / "portfolio.toml").read_text(encoding="utf-8").splitlines()
    remarks = ("# The settings of", "# A line that is")
    text = "\n".join(line if line.startswith(remarks) else line.removeprefix("# ") for line in lines)
    settings = read_settings(page(tmp_path, text))
    assert [len(version.periods) for version in settings.tariffs["time of use"].dated()] == [2]
    assert settings.supplier_emissions["ACCOUNT"][0].year == settings.emissions["RMPA"][0].year


def test_schedules_are_periods_in_words(tmp_path: Path) -> None:
    extra = '[schedules.curfew]\nkinds = ["time switch"]\nlit = ["sunset+15 to 23:00"]\n'
    curfew = read_settings(page(tmp_path, GOOD + extra)).schedules["curfew"]
    assert curfew.holds_for("S1", "time switch")
    assert not curfew.holds_for("S1", "photocontrol")
    (fault,) = faults_of(tmp_path, GOOD + extra.replace("sunset+15", "dusk"))
    assert "schedules.curfew.lit" in fault
    assert "'dusk' in 'dusk to 23:00' is no time of day" in fault
    (fault,) = faults_of(tmp_path, GOOD + "[schedules.curfew]\nkinds = ['timer']\n")
    assert "give lit, occupied or both" in fault
