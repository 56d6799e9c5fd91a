"""The shipped emission factors against their publications."""

from __future__ import annotations

import pytest

from pipeline.energy import emission_factor, emission_factors

LB_TO_KG_PER_MWH_TO_KWH = 0.45359237 / 1000


@pytest.mark.parametrize(
    ("edition", "region", "lb_per_mwh"),
    [
        # US EPA, eGRID2022 summary tables (30 January 2024), total output emission rates.
        ("eGRID2022", "US", 827.5),
        ("eGRID2022", "CAMX", 499.3),
        ("eGRID2022", "RFCM", 1224.2),
        ("eGRID2022", "NYUP", 275.4),
        # US EPA, eGRID2023 revision 2 (12 June 2025).
        ("eGRID2023", "US", 770.884),
        ("eGRID2023", "CAMX", 429.983),
        ("eGRID2023", "AZNM", 706.189),
        ("eGRID2023", "NYUP", 242.776),
    ],
)
def test_us_factors_are_as_printed_and_in_kilograms_per_kwh(edition, region, lb_per_mwh):
    factor = emission_factor(edition, region)
    assert factor.value == lb_per_mwh
    assert factor.unit == "lb CO2e/MWh"
    assert factor.in_our_unit == pytest.approx(lb_per_mwh * LB_TO_KG_PER_MWH_TO_KWH, rel=1e-12)


def test_uk_factor_is_in_kilograms_already():
    # UK DESNZ greenhouse gas conversion factors, June 2025: 0.17700 kg CO2e/kWh.
    assert emission_factor("UK2025", "UK").in_our_unit == 0.177


def test_the_us_average_of_2022_is_about_375_grams():
    assert emission_factor("eGRID2022", "US").in_our_unit == pytest.approx(0.37535, abs=0.00001)


def test_every_factor_says_where_it_comes_from_and_occurs_once():
    factors = emission_factors()
    assert len({(factor.edition, factor.region) for factor in factors}) == len(factors) == 33
    for factor in factors:
        assert factor.source
        assert str(factor.year) in factor.edition
        assert 0.05 < factor.in_our_unit < 0.6


def test_case_and_blanks_do_not_matter():
    assert emission_factor("egrid2023", " camx ") == emission_factor("eGRID2023", "CAMX")


def test_what_is_not_known_is_answered_with_what_is():
    with pytest.raises(ValueError, match="known editions: eGRID2022, eGRID2023, UK2025"):
        emission_factor("eGRID1999", "US")
    with pytest.raises(
        ValueError, match=r"'XXXX' in eGRID2023; known regions: AZNM, CAMX.*A factor of your own"
    ):
        emission_factor("eGRID2023", "XXXX")
