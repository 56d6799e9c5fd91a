"""A tag of a control that has been replaced, in calls from before and after the change."""

from __future__ import annotations

from pathlib import Path

import small_portfolio

from pipeline.build import build
from pipeline.store import Store

CALLS = small_portfolio.CALLS.splitlines()[0] + (
    "\n1,2022-06-01 09:00,2022-06-05 15:00,Closed,North Yard,PC-0010,Pole light on all day,Replaced photocell"
    "\n2,2020-06-01 09:00,2020-06-05 15:00,Closed,North Yard,PC-0020,Pole light on all day,Replaced photocell\n"
)
CONTROLS = """\
control_id,site_id,position,kind,model,quantity,installed_on,removed_on,switching
PC-0010,S1,pole 1,photocontrol,X,1,2016-04-01,2021-02-01,plain relay
PC-0020,S1,pole 1,photocontrol,X,1,2021-02-01,,plain relay
"""


def test_an_old_or_a_new_tag_leads_to_the_control_that_stood_there_on_the_day(tmp_path: Path) -> None:
    """An old tag still on the pole means its successor; a new one in an order from before, its predecessor."""
    folder = small_portfolio.make(tmp_path / "yards", CALLS)
    (folder / "controls.csv").write_text(CONTROLS, encoding="utf-8")
    (folder / "fixtures.csv").write_text(
        "fixture_id,control_id,lamp,luminaires,watts_each,watts_basis\nF1,PC-0010,LED,2,100,input\n",
        encoding="utf-8",
    )
    store = Store.open(build(folder).database)
    tied = store.rows(
        "SELECT call_number, control_id, tie_method FROM findings JOIN calls USING (call_id) ORDER BY 1"
    )
    assert tied == [("1", "PC-0020", "tag"), ("2", "PC-0010", "tag")]
    assert store.rows("FROM checks WHERE NOT holds") == []
    store.close()
