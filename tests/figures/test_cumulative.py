"""Net cash flow against repair like for like, reckoned by hand."""

from __future__ import annotations

from figures.small_store import add
from pipeline.figures.cumulative import cumulative_net_flow
from pipeline.store import Store

KEEP, RENEW = "repair like for like", "replace all now with a rated control"


def two_options() -> Store:
    """Over three years: keeping pays 50 a year; renewing pays 90 now and 10 in year 3."""
    store = Store.create()
    for option in (KEEP, RENEW):
        add(
            store, "options", option_id=option, site_id="north", kind="timer", model="A", option=option, controls=1,
            connected_w=100.0, controls_without_energy=0,
            years=3, discount_rate=0.03, investment=0, basis="invented",
        )  # fmt: skip
    flows = [(KEEP, year, kind, 25) for year in (1, 2, 3) for kind in ("maintenance", "energy")]
    flows += [(RENEW, 0, "investment", 90), (RENEW, 3, "maintenance", 10)]
    for option, year, kind, amount in flows:
        add(store, "cash_flows", option_id=option, year=year, kind=kind, amount=amount)
    return store


def test_net_flow_is_what_like_for_like_pays_less_what_the_option_pays() -> None:
    flow = cumulative_net_flow(two_options(), "north", "timer", "A")
    assert flow["option"].unique().tolist() == [RENEW]
    assert flow["year"].tolist() == [0, 1, 2, 3]
    assert flow["net_flow_cost"].tolist() == [-90, 50, 50, 40]
    assert flow["cumulative_net_flow_cost"].tolist() == [-90, -40, 10, 50]


def test_a_group_without_another_option_has_no_flow() -> None:
    store = two_options()
    store.run("DELETE FROM options WHERE option = $option", {"option": RENEW})
    assert cumulative_net_flow(store, "north", "timer", "A").empty
