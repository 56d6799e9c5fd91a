"""Orders of every other trade, interior lighting among them."""

from __future__ import annotations

import numpy as np

from demo_data.calls import written_site
from demo_data.events import Call
from demo_data.model import LOG_DAYS
from demo_data.other_phrases import OTHER_WORK
from demo_data.school_year import next_working_moment
from demo_data.texts import misspell, pick
from demo_data.world import Site

NUMBER_OF_ORDERS = 7600


def other_calls(sites: list[Site], rng: np.random.Generator) -> list[Call]:
    """Orders that have nothing to do with exterior lighting, spread over the log."""
    weights = np.array([weight for _, _, weight, _, _ in OTHER_WORK])
    trades = rng.choice(len(OTHER_WORK), NUMBER_OF_ORDERS, p=weights / weights.sum())
    calls = []
    for trade in trades:
        site = sites[int(rng.integers(len(sites)))]
        at = next_working_moment(float(rng.uniform(0, LOG_DAYS - 3)), rng)
        if site.starts <= at < site.ends:
            calls.append(_order(site, at, int(trade), rng))
    return calls


def _order(site: Site, at: float, trade: int, rng: np.random.Generator) -> Call:
    name, category, _, problems, actions = OTHER_WORK[trade]
    problem = pick(rng, problems).format(n=int(rng.integers(101, 340)))
    done = next_working_moment(at + float(rng.gamma(1.2, 5.0)), rng)
    finished = done < LOG_DAYS - 1
    call = Call(
        "",
        site,
        at,
        done,
        done + 0.02 if finished else None,
        "completed" if finished else "open",
        "reactive",
        problem,
        "",
    )
    call.exterior_lighting, call.trade = False, name
    call.site_text = written_site(site, rng)
    call.category = category if rng.random() < 0.85 else name
    call.requester, call.technician = int(rng.integers(16 * 12)), int(rng.integers(6))
    if name == "HVAC" and rng.random() < 0.4:
        call.tag_text = f"RTU-{int(rng.integers(1, 60)):02d}"
    if rng.random() < 0.05:
        call.problem = misspell(call.problem, rng)
    if finished:
        call.action_text = pick(rng, actions)
        call.hours = round(float(rng.gamma(2.0, 0.8)) + 0.25, 2)
        call.labour, call.parts = round(call.hours * 58.0, 2), round(float(rng.gamma(1.0, 30.0)), 2)
        if rng.random() < 0.03:
            call.contract = round(float(rng.uniform(300, 5200)), 2)
    if rng.random() < 0.04:
        call.status = "cancelled" if finished else call.status
    if name in ("PLUMBING", "HVAC", "CUSTODIAL") and rng.random() < 0.06:
        call.work_type, call.problem = "planned", f"scheduled maintenance: {call.problem}"
    return call
