"""Places with a known truth: batches whose members renew, and controls whose findings may be misread."""

from __future__ import annotations

import numpy as np
import pandas as pd


def batches(shape, scale, count, quantity, log_days, seed, oldest_days=0.0):
    """Batches installed up to ``oldest_days`` before a log; every failed member is replaced at once.

    Returns places, events, and the true lives within the log.
    """
    rng = np.random.default_rng(seed)
    places, events, lives = [], [], []
    for batch in range(count):
        installed = rng.uniform(-oldest_days, 0.9 * log_days)
        entry, end = max(0.0, -installed), log_days - installed
        places.append((batch, entry, end, quantity))
        for _ in range(quantity):
            born = 0.0
            while born < end:
                dies = born + max(1.0, np.ceil(scale * rng.weibull(shape)))
                if dies > entry and min(dies, end) - born > max(entry - born, 0.0):
                    lives.append((max(entry - born, 0.0), min(dies, end) - born, dies <= end, 1))
                    if dies <= end:
                        events.append((batch, dies))
                born = dies
    return (
        pd.DataFrame(places, columns=["place_id", "entry_days", "exit_days", "quantity"]),
        pd.DataFrame(events, columns=["place_id", "age_days"]),
        pd.DataFrame(lives, columns=["entry_days", "exit_days", "failed", "quantity"]),
    )


def misread_places(shape, scale, count, log_days, seed, precision=0.95, recall=0.95):
    """Single controls under delayed entry; findings carry the truth, a verdict, and its calibrated probability.

    As many findings are no control failures as are, and these fall on every day alike.
    """
    rng = np.random.default_rng(seed)
    places, real = [], []
    for place in range(count):
        installed = np.floor(rng.uniform(-0.7 * log_days, 0.9 * log_days))
        entry, end = max(0.0, -installed), log_days - installed
        first = np.ceil(scale * rng.weibull(shape))
        if first <= entry:
            continue  # the register lists what was still there as the log began
        places.append((place, entry, end, 1))
        dies = max(first, 1.0)
        while dies <= end:
            real.append((place, dies))
            dies += max(1.0, np.ceil(scale * rng.weibull(shape)))
    frame = pd.DataFrame(places, columns=["place_id", "entry_days", "exit_days", "quantity"])
    days = frame["exit_days"] - frame["entry_days"]
    other = frame.loc[rng.choice(len(frame), len(real), p=days / days.sum())]
    when = np.floor(
        other["entry_days"] + rng.uniform(0, 1, len(other)) * (other["exit_days"] - other["entry_days"])
    )
    findings = pd.concat(
        [
            pd.DataFrame(real, columns=["place_id", "age_days"]).assign(real=True),
            pd.DataFrame({"place_id": other["place_id"], "age_days": when + 0.5, "real": False}),
        ],
        ignore_index=True,
    )
    inside = findings["age_days"] <= findings["place_id"].map(frame.set_index("place_id")["exit_days"])
    findings = findings[inside].reset_index(drop=True)
    wrongly_yes = recall * (1 - precision) / precision
    yes = np.where(
        findings["real"], rng.random(len(findings)) < recall, rng.random(len(findings)) < wrongly_yes
    )
    chance_no = (1 - recall) / ((1 - recall) + (1 - wrongly_yes))
    return frame, findings.assign(verdict=yes, failed_probability=np.where(yes, precision, chance_no))


def lives_by(places, events):
    """Lives of single controls, taking every one of ``events`` for a failure."""
    rows = []
    ages = {place: sorted(part) for place, part in events.groupby("place_id")["age_days"]}
    for place, entry, end in zip(places["place_id"], places["entry_days"], places["exit_days"], strict=True):
        born = 0.0
        for age in [*ages.get(place, []), None]:
            last = end if age is None else age
            if last - born > max(entry - born, 0.0):
                rows.append((max(entry - born, 0.0), last - born, age is not None, 1))
            born = last
    return pd.DataFrame(rows, columns=["entry_days", "exit_days", "failed", "quantity"])


def ended_by_rule(where, found, rule, seed=0):
    """Lives if each failure is taken to end the oldest member, or one drawn at random."""
    rng, rows = np.random.default_rng(seed), []
    ages = {place: sorted(part) for place, part in found.groupby("place_id")["age_days"]}
    for place, end, quantity in zip(where["place_id"], where["exit_days"], where["quantity"], strict=True):
        born = [0.0] * quantity
        for age in ages.get(place, []):
            able = [i for i in range(quantity) if born[i] < age]
            member = min(able, key=born.__getitem__) if rule == "oldest" else rng.choice(able)
            rows.append((0.0, age - born[member], True, 1))
            born[member] = age
        rows += [(0.0, end - birth, False, 1) for birth in born if end > birth]
    return pd.DataFrame(rows, columns=["entry_days", "exit_days", "failed", "quantity"])
