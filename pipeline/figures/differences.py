"""Whether groups of controls really live differently: the log-rank test, all together and pair by pair."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.figures import query
from pipeline.figures.failures import check_grouping
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import chance_text
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.imputing import IMPUTATIONS
from pipeline.numerals import count_text
from pipeline.store import Store
from pipeline.survival import CannotFit, LifeMargins, LogRank, log_rank

SMALL_P = 0.05
MOST_GROUPS_DRAWN = (
    40  # with more, pairs are not tested in every draw: a matter of seconds, not of statistics
)
_GROUPS = ("group_name", "units", "failures", "expected", "times_expected")
_PAIRS = ("sooner", "later", "said", "statistic", "p_value", "p_value_holm", "draws_that_differ")


@dataclass(frozen=True)
class GroupDifferences:
    """The log-rank test of a grouping. ``sentence`` says what it found, or why there is no test.

    ``groups``: group_name, units (stretches of lives), failures, expected (failures if all groups lived alike),
    times_expected (their ratio), the soonest to fail first. ``pairs``: sooner, later (the group that fails sooner,
    and the other), said ("differ" where the adjusted value is below 0.05, else "may be chance"), statistic, p_value,
    p_value_holm (adjusted for the number of pairs), draws_that_differ: in how many of
    ``draws`` of the open verdicts the adjusted value is below 0.05 (missing where nothing is open); the
    surest difference first. ``p_value`` is that over all groups; None without a test.
    """

    sentence: str
    p_value: float | None = None
    draws: int = 0
    groups: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(_GROUPS)), repr=False)
    pairs: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(_PAIRS)), repr=False)


def group_differences(
    store: Store, grouping: str = "model and lamp", filters: Filters = EVERYTHING
) -> GroupDifferences:
    """Do the groups of a grouping live equally long? Log-rank under delayed entry, pairs adjusted by Holm.

    Verdicts as they stand, failures at their central age, as in the curves; beside it, in how many draws of the open
    verdicts each pair differs. A period cuts lives at its edges.
    """
    check_grouping(grouping)
    rows = query.frame(store, "group_lives", filters, by_group=grouping, group=None)
    lives = {str(name): GroupLives(part) for name, part in rows.groupby("group_name")}
    as_read = {
        name: LifeMargins.from_lives(each.at_central_ages())
        for name, each in lives.items()
        if len(each.as_read)
    }
    if len(as_read) < 2:
        many = "No group" if not as_read else "Only one group"
        return GroupDifferences(f"{many} of controls can be followed here, so there is nothing to compare.")
    try:
        test = log_rank(as_read)
    except CannotFit as refusal:
        return GroupDifferences(refusal.why)
    return _found(test, _of_draws(lives))


def _of_draws(lives: dict[str, GroupLives]) -> list[LogRank]:
    """The same test in every draw; none where nothing is open, or the groups are so many that it would take long."""
    if not any(each.open for each in lives.values()) or len(lives) > MOST_GROUPS_DRAWN:
        return []
    drawn = {name: each.drawn_at_central_ages() for name, each in lives.items()}
    tests = []
    for draw in range(IMPUTATIONS):
        try:
            tests.append(
                log_rank({name: margins[draw] for name, margins in drawn.items() if margins[draw].units})
            )
        except CannotFit:
            continue
    return tests


def _found(test: LogRank, drawn: list[LogRank]) -> GroupDifferences:
    groups = test.groups.rename(columns={"group": "group_name"})
    groups["times_expected"] = groups["failures"] / groups["expected"].where(groups["expected"] > 0)
    pairs = _directed(test.pairs)
    if drawn:
        hits = pd.concat([_directed(each.pairs) for each in drawn], ignore_index=True)
        counted = (
            hits.assign(differs=hits["p_value_holm"] < SMALL_P).groupby(["sooner", "later"])["differs"].sum()
        )
        pairs = pairs.merge(
            counted.rename("draws_that_differ").reset_index(), how="left", on=["sooner", "later"]
        )
    else:
        pairs["draws_that_differ"] = np.nan
    differ = pairs["p_value_holm"] < SMALL_P
    pairs["said"] = np.where(differ, "differ", "may be chance")
    return GroupDifferences(
        sentence=_sentence(test, pairs, drawn),
        p_value=test.p_value,
        draws=len(drawn),
        groups=groups.sort_values("times_expected", ascending=False, na_position="last", ignore_index=True)[
            list(_GROUPS)
        ],
        pairs=pairs.sort_values(["p_value_holm", "p_value"], na_position="last", ignore_index=True)[
            list(_PAIRS)
        ],
    )


def _directed(pairs: pd.DataFrame) -> pd.DataFrame:
    """Pairs by who fails sooner; where neither does, in their order."""
    swapped = pairs["sooner"].notna() & (pairs["sooner"] == pairs["group_b"])
    return pairs.assign(
        sooner=pairs["group_b"].where(swapped, pairs["group_a"]),
        later=pairs["group_a"].where(swapped, pairs["group_b"]),
    )


def _sentence(test: LogRank, pairs: pd.DataFrame, drawn: list[LogRank]) -> str:
    if test.p_value != test.p_value:
        return (
            "No two groups were ever watched at an age at which something failed, so they cannot be compared."
        )
    chance = f"log-rank test over {count_text(len(test.groups))} groups, p {_p_text(test.p_value)}"
    if drawn:
        agree = sum((each.p_value < SMALL_P) == (test.p_value < SMALL_P) for each in drawn)
        chance += f"; {count_text(agree)} of {count_text(len(drawn))} draws of doubtful verdicts say the same"
    if test.p_value >= SMALL_P:
        return f"The data do not show that these groups live differently ({chance})."
    if len(pairs) == 1:
        first = pairs.iloc[0]
        return f"They really differ: {first['sooner']} fails sooner than {first['later']} ({chance})."
    differ = int((pairs["p_value_holm"] < SMALL_P).sum())
    if not differ:
        return (
            f"The groups do not all live alike ({chance}), but no single pair of them differs surely once it is "
            f"allowed for that {count_text(len(pairs))} pairs are compared."
        )
    return (
        f"The groups really differ ({chance}). Of {count_text(len(pairs))} pairs {count_text(differ)} differ still "
        "when it is allowed for that so many are compared (Holm); the others may differ by chance."
    )


def _p_text(p_value: float) -> str:
    text = chance_text(p_value)
    return text if text.startswith("below") else f"= {text}"
