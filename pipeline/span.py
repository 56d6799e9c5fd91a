"""When the log was kept: its first and last day, and each site's window of record."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.faults import Fault, InputFaults
from pipeline.numerals import count_text
from pipeline.settings import Log, Settings
from pipeline.store import Store
from pipeline.window_file import ConfirmedWindow

# The log ends with its last report: orders may be closed years later, when nobody kept calls any more. A date
# that intake has flagged is no evidence of when the log was kept.
_LOG_SPAN = """
SELECT
  coalesce($log_start, min(reported_at)::DATE) AS log_from,
  coalesce($log_end, max(reported_at)::DATE) AS log_to
FROM calls
WHERE superseded_by IS NULL AND NOT list_contains(coalesce(flags, []), 'outside the log')
"""

_REPORTS = """
SELECT count(*), min(reported_at)::DATE, max(reported_at)::DATE FROM calls
WHERE superseded_by IS NULL AND reported_at IS NOT NULL
"""

_WINDOWS = """
SELECT
  site_id,
  greatest(coalesce(observed_from, log_from), log_from) AS observed_from,
  least(coalesce(observed_to, log_to), log_to) AS observed_to,
  CASE
    WHEN observed_from IS NOT NULL OR observed_to IS NOT NULL THEN 'site register'
    WHEN $log_start IS NOT NULL AND $log_end IS NOT NULL THEN 'settings'
    ELSE 'calls'
  END AS origin
FROM sites ANTI JOIN confirmed USING (site_id), build_info
WHERE greatest(coalesce(observed_from, log_from), log_from) <= least(coalesce(observed_to, log_to), log_to)
"""


# A person's windows come before all else; several a site, cut to the log.
_CONFIRMED = """
SELECT site_id, greatest(c.observed_from, log_from) AS observed_from, least(c.observed_to, log_to) AS observed_to,
       'windows.csv' AS origin
FROM confirmed c, build_info
WHERE greatest(c.observed_from, log_from) <= least(c.observed_to, log_to)
"""


def fill_span(store: Store, settings: Settings, windows: Sequence[ConfirmedWindow] = ()) -> None:
    """Set the log's span in build_info (settings first, else the data) and fill observation_windows.

    ``windows``: those of windows.csv; raises InputFaults for one of a site that does not exist.
    """
    _offer_confirmed(store, windows)
    span = {"log_start": settings.log.start, "log_end": settings.log.end}
    log_from, log_to = store.row(_LOG_SPAN, span)
    store.run("UPDATE build_info SET log_from = ?, log_to = ?", [log_from, log_to])
    store.fill("observation_windows", _CONFIRMED)
    store.fill("observation_windows", _WINDOWS, span)
    if log_from is None or log_to is None or log_from > log_to:
        store.notice("registers", *_why_no_span(store, settings.log))
        return
    for (site,) in store.rows(
        "SELECT site_id FROM sites ANTI JOIN observation_windows USING (site_id) ORDER BY 1"
    ):
        store.notice(
            "registers",
            f"sites.csv, site {site}",
            "its observed dates lie outside the log; it gives no time at risk.",
        )


def _offer_confirmed(store: Store, windows: Sequence[ConfirmedWindow]) -> None:
    """The confirmed windows as a table; a site that does not exist is a fault."""
    sites = {site for (site,) in store.rows("SELECT site_id FROM sites")}
    faults = [
        Fault(
            f"windows.csv, row {one.row_number}",
            f"'{one.site_id}' is no site of this portfolio.",
            "Correct it.",
        )
        for one in windows
        if one.site_id not in sites
    ]
    if faults:
        raise InputFaults(faults)
    store.run(
        "CREATE OR REPLACE TEMP TABLE confirmed (site_id VARCHAR, observed_from DATE, observed_to DATE)"
    )
    for one in windows:
        store.run("INSERT INTO confirmed VALUES (?, ?, ?)", [one.site_id, one.span.first, one.span.last])


def _why_no_span(store: Store, log: Log) -> tuple[str, str]:
    """Place and sentence for a log that has no days: no reports at all, or none on the right side of its set end."""
    so = "so the log has no days and nothing gives time at risk."
    calls, first, last = store.row(_REPORTS)
    if not calls:
        return "calls", f"no call has a usable report date, {so}"
    reported = f"all {count_text(calls)} calls" if calls > 1 else "the only call"
    were = "were" if calls > 1 else "was"
    if log.start is not None and last < log.start:
        return (
            "portfolio.toml, log.start",
            f"{reported} {were} reported before {log.start} (last: {last}), {so}",
        )
    if log.end is not None and first > log.end:
        return "portfolio.toml, log.end", f"{reported} {were} reported after {log.end} (first: {first}), {so}"
    return "calls", f"{reported} {were} reported on a day that cannot be right, {so}"
