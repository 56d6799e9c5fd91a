"""The stage: calls -> findings -> incidents.

Texts and names are looked at once each, in Python; everything that grows with the calls is SQL.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pandas as pd
import pyarrow as pa

from pipeline.keys import joined_sql
from pipeline.lexicon import load_lexicon
from pipeline.noticing import Noticing
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import Row, Store, sql_text
from pipeline.tie.dates import LIKELY, dates_in
from pipeline.tie.decided import Decisions
from pipeline.tie.labels import Control
from pipeline.tie.names import PlaceWords
from pipeline.tie.near_calls import find_near_places, gather_calls_that_stand_together
from pipeline.tie.sites import Site, SiteNames
from pipeline.tie.tellers import TellerParts, told_in_shares
from pipeline.tie.told import LEAST_CONFIDENCE
from pipeline.tie.told_columns import told_columns
from pipeline.tie.verdict import Verdicts, load_verdicts

_PACKAGE = "pipeline.tie"
_AT_A_TIME = 10_000
# The processes that tell hold memory of their own; when they have ended, the database may have theirs.
_MOST_MEMORY, _MOST_MEMORY_AFTER_TELLING = "1800MB", "2500MB"


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill findings and incidents, and positions that only the calls speak of."""
    with store.within_memory(_MOST_MEMORY):
        decisions, verdicts = _read(store, portfolio, progress)
    with store.within_memory(_MOST_MEMORY_AFTER_TELLING):
        _gather(store, portfolio, decisions, verdicts, progress)


def _read(store: Store, portfolio: Portfolio, progress: Progress) -> tuple[Decisions, Verdicts]:
    """What every call says and where, as working tables; gives the decisions and verdicts in force."""
    progress.step("Tying calls to their places and reading what failed")
    _settings(store, portfolio)
    lexicon, verdicts = load_lexicon(portfolio.folder), load_verdicts(portfolio.folder)
    decisions = Decisions(store, portfolio)
    decisions.apply_to_lighting()
    store.run(sql_text(_PACKAGE, "tie_calls"))
    _usual_delays(store, Noticing.of(portfolio.settings))
    names = _place_names(store)
    _match_sites(store, PlaceWords(lexicon.place_forms, names))
    decisions.apply_to_sites()
    _tell(store, TellerParts(portfolio.folder, names, _controls(store)), progress)
    decisions.apply_to_readings(verdicts)
    _text_dates(store)
    return decisions, verdicts


def _gather(
    store: Store, portfolio: Portfolio, decisions: Decisions, verdicts: Verdicts, progress: Progress
) -> None:
    """Findings at their places, and incidents."""
    progress.step("Gathering findings into incidents")
    find_near_places(store, portfolio.settings.assumptions.place_within_m)
    gather_calls_that_stand_together(store, portfolio.settings.assumptions.same_place_within_m)
    store.run(_placed_findings())
    _drop(store, "tie_keys", "told", "call_keys", "near_places")
    store.fill("positions", sql_text(_PACKAGE, "positions"))
    store.run(sql_text(_PACKAGE, "incident_members"))
    decisions.apply_to_verdicts(verdicts)
    store.fill("findings", sql_text(_PACKAGE, "findings"))
    decisions.report()
    _drop(store, "placed_findings", "incident_members")
    store.fill("incidents", sql_text(_PACKAGE, "incidents"))
    _say_what_is_open(store)


def _drop(store: Store, *tables: str) -> None:
    """Let go of working tables: with a million calls each is some hundred megabytes."""
    for table in tables:
        store.run(f"DROP TABLE {table}")


def _settings(store: Store, portfolio: Portfolio) -> None:
    """The assumptions that the SQL needs, as a table of one row."""
    assumed = portfolio.settings.assumptions
    row = {
        "detection_delay_days": assumed.detection_delay_days,
        "onset_cap_days": assumed.onset_cap_days,
        "stale_after_days": assumed.stale_after_days,
        "same_fault_days": assumed.same_fault_days,
        "callback_days": assumed.callback_days,
        "control_failed_threshold": assumed.control_failed_threshold,
        "least_confidence": LEAST_CONFIDENCE,
        "verdict_prior_cases": assumed.verdict_prior_cases,
    }
    _keep(store, "tie_settings", [row])


def _usual_delays(store: Store, noticing: Noticing) -> None:
    """The mean detection delay before a report on each day on which there is one."""
    rows = store.rows(
        "SELECT DISTINCT reported_at::DATE FROM tie_calls WHERE reported_at IS NOT NULL ORDER BY 1"
    )
    days = [day for (day,) in rows]
    delays = noticing.mean_before(np.array(days, dtype="datetime64[D]"))
    _keep(store, "usual_delays", zip(days, delays.tolist(), strict=True), ["day", "delay_days"])
    store.run("ALTER TABLE usual_delays ALTER day TYPE DATE")
    store.run("ALTER TABLE usual_delays ALTER delay_days TYPE DOUBLE")


def _keep(store: Store, table: str, rows: Iterable[object], columns: list[str] | None = None) -> None:
    """Rows as a temporary table."""
    frame = pd.DataFrame(list(rows), columns=columns)
    with store.frame_as("rows_to_keep", frame) as name:
        store.run(f"CREATE OR REPLACE TEMP TABLE {table} AS SELECT * FROM {name}")  # noqa: S608 - names of ours


def _place_names(store: Store) -> list[str]:
    names = store.rows(
        "SELECT name FROM sites WHERE name IS NOT NULL UNION SELECT unnest(aliases) FROM sites"
        " UNION SELECT label FROM positions WHERE label IS NOT NULL ORDER BY 1"
    )
    return [name for (name,) in names]


def _match_sites(store: Store, words: PlaceWords) -> None:
    """Each distinct site text once."""
    sites = store.rows("SELECT site_id, name, coalesce(aliases, []) FROM sites ORDER BY site_id")
    names = SiteNames(words, [Site(site_id, name, tuple(aliases)) for site_id, name, aliases in sites])
    texts = store.rows("SELECT DISTINCT site_text FROM tie_calls ORDER BY 1")
    matched = [(text, *names.find(text)) for (text,) in texts]
    _keep(store, "site_matches", matched, ["site_text", "site_id", "site_match", "site_confidence"])
    store.run("ALTER TABLE site_matches ALTER site_id TYPE VARCHAR")


def _controls(store: Store) -> list[Control]:
    rows = store.rows(
        "SELECT c.control_id, c.site_id, c.position, coalesce(p.label, c.control_id), c.switched_by"
        " FROM controls c LEFT JOIN positions p USING (position) ORDER BY c.row_number"
    )
    return [Control(*row) for row in rows]


def _tell(store: Store, parts: TellerParts, progress: Progress) -> None:
    """Each distinct combination once, a share of them at a time."""
    store.run(sql_text(_PACKAGE, "tie_keys"))
    count = store.value("SELECT count(*) FROM tie_keys")
    _keep_told(store, told_columns([]), "CREATE OR REPLACE TEMP TABLE told AS")
    for done, told in enumerate(told_in_shares(parts, _shares(store, count), count)):
        progress.share(done * _AT_A_TIME, count)
        _keep_told(store, told, "INSERT INTO told")


def _shares(store: Store, count: int) -> Iterator[list[Row]]:
    for done in range(0, count, _AT_A_TIME):
        yield store.rows(
            "SELECT * FROM tie_keys WHERE key_id BETWEEN ? AND ? ORDER BY key_id",
            [done + 1, done + _AT_A_TIME],
        )


def _keep_told(store: Store, told: pa.Table, into: str) -> None:
    with store.frame_as("rows_to_keep", told) as name:
        store.run(f"{into} FROM {name}")


def _text_dates(store: Store) -> None:
    """The days that each distinct action text can mean."""
    texts = store.rows(
        "SELECT DISTINCT action_text FROM tie_calls WHERE regexp_matches(lower(action_text), ?) ORDER BY 1",
        [LIKELY.replace(r"\d", r"\pN")],
    )
    days = [(text, day) for (text,) in texts for _, meant in dates_in(text) for day in meant]
    _keep(store, "text_dates", days, ["action_text", "day"])
    store.run("ALTER TABLE text_dates ALTER action_text TYPE VARCHAR")
    store.run("ALTER TABLE text_dates ALTER day TYPE DATE")


def _placed_findings() -> str:
    asset = "upper(trim(c.asset_text))"
    text = sql_text(_PACKAGE, "placed_findings")
    return text.replace("{at_site}", joined_sql("f.site_id", asset)).replace("{alone}", joined_sql(asset))


def _say_what_is_open(store: Store) -> None:
    """How much could not be tied or read: unknown is an answer, and its size is stated."""
    findings, no_site, no_place, unknown = store.row(
        "SELECT count(*), count(*) FILTER (site_id IS NULL), count(*) FILTER (position IS NULL),"
        " count(*) FILTER (component = 'unknown' AND action IN ('unknown', 'repaired')) FROM findings"
    )
    if findings:
        store.notice(
            "tie",
            "findings",
            f"of {count_text(findings)} read, {count_text(no_site)} are at no known site and {count_text(no_place)} at "
            f"no known place; the texts of {count_text(unknown)} do not say what was done or to which part.",
        )
