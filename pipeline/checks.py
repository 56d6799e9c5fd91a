"""What must hold in every finished build, tested against the tables themselves."""

from __future__ import annotations

from pipeline.store import Store

# Each query gives: does it hold, and the figures compared.
_CHECKS = {
    "every row of every file is a call, superseded or rejected": """
        SELECT coalesce(bool_and(rows_read = calls + superseded + rejected), true),
               coalesce(sum(rows_read), 0) || ' rows read, ' || coalesce(sum(calls), 0) || ' calls, '
               || coalesce(sum(superseded), 0) || ' superseded, ' || coalesce(sum(rejected), 0) || ' rejected'
        FROM source_files""",
    "the calls table holds as many rows as the files gave": """
        SELECT (SELECT count(*) FROM calls) = coalesce(sum(calls + superseded), 0),
               (SELECT count(*) FROM calls) || ' rows, ' || coalesce(sum(calls + superseded), 0) || ' expected'
        FROM source_files""",
    "the rejected_rows table holds every rejected row": """
        SELECT (SELECT count(*) FROM rejected_rows) = coalesce(sum(rejected), 0),
               (SELECT count(*) FROM rejected_rows) || ' rows, ' || coalesce(sum(rejected), 0) || ' expected'
        FROM source_files""",
    "every lighting call has a finding or a reason why not": """
        SELECT count(*) = 0, count(*) || ' lighting calls without either'
        FROM calls c
        WHERE is_lighting AND no_finding_reason IS NULL
          AND NOT EXISTS (FROM findings f WHERE f.call_id = c.call_id)""",
    "every finding belongs to one incident that exists": """
        SELECT count(*) = 0, count(*) || ' findings without'
        FROM findings f ANTI JOIN incidents i USING (incident_id)""",
    "an incident's three onsets and three ends are in order": """
        SELECT count(*) = 0, count(*) || ' incidents out of order'
        FROM incidents
        WHERE NOT (onset_high <= onset_central AND onset_central <= onset_low)
           OR NOT coalesce(restored_low <= restored_central AND restored_central <= restored_high, true)""",
    "controls in service equal the register's, at its date": """
        WITH seen AS (
          SELECT site_id, min(observed_from) AS first_day, max(observed_to) AS last_day
          FROM observation_windows GROUP BY site_id
        ),
        dated AS (
          SELECT control_id, quantity, installed_on, removed_on,
                 greatest(least(coalesce(as_of, last_day), last_day), first_day) AS at_date
          FROM controls JOIN seen USING (site_id)
        ),
        registered AS (
          SELECT control_id, quantity, at_date FROM dated
          WHERE coalesce(installed_on, at_date) <= at_date AND coalesce(removed_on > at_date, true)
        ),
        -- a failed control stays in its place until the light works again
        occupied AS (
          SELECT l.control_id, l.quantity, l.entered_on, CASE
              WHEN l.end_reason IN ('in service', 'load changed') THEN l.ended_on
              WHEN i.incident_id IS NULL OR c.quantity > 1 THEN l.ended_on - 1
              ELSE coalesce(i.restored_central::DATE, DATE '9999-01-01') - 1
            END AS gone_after, l.end_reason
          FROM lives l JOIN controls c USING (control_id) LEFT JOIN incidents i USING (incident_id)
        ),
        living AS (
          SELECT sum(o.quantity) AS in_service
          FROM occupied o JOIN dated d USING (control_id)
          WHERE o.entered_on <= d.at_date AND o.gone_after >= d.at_date
            AND (o.end_reason <> 'load changed' OR o.gone_after > d.at_date)
        )
        SELECT coalesce((SELECT sum(quantity) FROM registered), 0) = coalesce(in_service, 0),
               coalesce((SELECT sum(quantity) FROM registered), 0) || ' in the register, '
               || coalesce(in_service, 0) || ' in lives'
        FROM living""",
    "an episode's energy is the sum of its months": """
        SELECT count(*) = 0, count(*) || ' episodes differ'
        FROM burn_episodes e
        LEFT JOIN (SELECT incident_id, sum(kwh_central) AS kwh FROM burn_months GROUP BY ALL) m USING (incident_id)
        WHERE e.left_out_reason IS NULL AND e.kwh_central <> coalesce(m.kwh, 0)""",
}


def fill_checks(store: Store) -> None:
    """Run every check and keep its verdict with the figures compared."""
    for name, query in _CHECKS.items():
        holds, detail = store.row(query)
        store.run("INSERT INTO checks VALUES (?, ?, ?)", [name, holds, detail])
