"""What must hold in every finished build, tested against the tables themselves."""

from __future__ import annotations

from pipeline.numerals import count_text
from pipeline.store import Store

# Each check: how the figures compared are told, and a query that gives whether it holds and those figures.
_CHECKS = {
    "every row of every file is a call, superseded or rejected": (
        "{} rows read, {} calls, {} superseded, {} rejected",
        """
        SELECT coalesce(bool_and(rows_read = calls + superseded + rejected), true),
               sum(rows_read), sum(calls), sum(superseded), sum(rejected)
        FROM source_files""",
    ),
    "the calls table holds as many rows as the files gave": (
        "{} rows, {} expected",
        """
        SELECT (SELECT count(*) FROM calls) = coalesce(sum(calls + superseded), 0),
               (SELECT count(*) FROM calls), sum(calls + superseded)
        FROM source_files""",
    ),
    "the rejected_rows table holds every rejected row": (
        "{} rows, {} expected",
        """
        SELECT (SELECT count(*) FROM rejected_rows) = coalesce(sum(rejected), 0),
               (SELECT count(*) FROM rejected_rows), sum(rejected)
        FROM source_files""",
    ),
    "every lighting call has a finding or a reason why not": (
        "{} lighting calls without either",
        """
        SELECT count(*) = 0, count(*)
        FROM calls c
        WHERE is_lighting AND no_finding_reason IS NULL
          AND NOT EXISTS (FROM findings f WHERE f.call_id = c.call_id)""",
    ),
    "every finding belongs to one incident that exists": (
        "{} findings without",
        """
        SELECT count(*) = 0, count(*)
        FROM findings f ANTI JOIN incidents i USING (incident_id)""",
    ),
    "an incident's three onsets and three ends are in order": (
        "{} incidents out of order",
        """
        SELECT count(*) = 0, count(*)
        FROM incidents
        WHERE NOT (onset_high <= onset_central AND onset_central <= onset_low)
           OR NOT coalesce(restored_low <= restored_central AND restored_central <= restored_high, true)""",
    ),
    "controls in service equal the register's, at its date": (
        "{} in the register, {} in lives",
        """
        WITH seen AS (
          SELECT site_id, min(observed_from) AS first_day, max(observed_to) AS last_day
          FROM observation_windows GROUP BY site_id
        ),
        dated AS (
          SELECT control_id, quantity, installed_on, removed_on,
                 -- in a gap of the record: the last day before it
                 coalesce(
                   (SELECT max(least(w.observed_to, coalesce(c.as_of, w.observed_to))) FROM observation_windows w
                    WHERE w.site_id = c.site_id AND w.observed_from <= coalesce(c.as_of, last_day)),
                   first_day) AS at_date
          FROM controls c JOIN seen USING (site_id)
        ),
        registered AS (
          SELECT control_id, quantity, at_date FROM dated
          WHERE coalesce(installed_on, at_date) <= at_date AND coalesce(removed_on > at_date, true)
        ),
        -- a failed control stays in its place until the light works again
        occupied AS (
          SELECT l.control_id, l.quantity, l.started_on, l.entered_on, CASE
              WHEN l.end_reason IN ('in service', 'load changed', 'record interrupted') THEN l.ended_on
              WHEN i.incident_id IS NULL THEN l.ended_on - 1
              ELSE coalesce(i.restored_central::DATE, DATE '9999-01-01') - 1
            END AS gone_after, l.end_reason
          FROM lives l LEFT JOIN incidents i USING (incident_id)
        ),
        living AS (
          SELECT sum(o.quantity) AS in_service
          FROM occupied o JOIN dated d USING (control_id)
          WHERE o.entered_on <= d.at_date AND o.gone_after >= d.at_date
            AND (o.end_reason <> 'load changed' OR o.gone_after > d.at_date)
            -- what the log alone put in place of a removed control has no row to be compared with
            AND coalesce(o.started_on < d.removed_on, true)
        )
        SELECT coalesce((SELECT sum(quantity) FROM registered), 0) = coalesce(in_service, 0),
               (SELECT sum(quantity) FROM registered), in_service
        FROM living""",
    ),
    "lives cover the days of every control's stays, and no more": (
        "{} control-days of stays, {} of lives, {} controls differ",
        """
        WITH stayed AS (
          SELECT control_id, sum(quantity * date_diff('day', entered_on, ended_on)) AS days FROM stays GROUP BY ALL
        ),
        lived AS (
          SELECT control_id, sum(quantity * date_diff('day', entered_on, ended_on)) AS days FROM lives GROUP BY ALL
        )
        SELECT count(*) FILTER (s.days IS DISTINCT FROM l.days) = 0,
               sum(s.days), sum(l.days), count(*) FILTER (s.days IS DISTINCT FROM l.days)
        FROM stayed s FULL JOIN lived l USING (control_id)""",
    ),
    "no single control is under observation twice on one day": (
        "{} overlaps",
        """
        SELECT count(*) = 0, count(*)
        FROM lives one
        JOIN lives other ON other.control_id = one.control_id AND other.entered_on < one.ended_on
          AND one.entered_on < other.ended_on AND (one.life_id, one.segment) < (other.life_id, other.segment)
        JOIN controls c ON c.control_id = one.control_id AND c.quantity = 1""",
    ),
    "every failed stay is one failed life, ended on its last day": (
        "{} failed stays, {} failed lives, {} differ",
        """
        WITH stayed AS (
          SELECT control_id || '#' || succession AS life_id, ended_on, quantity FROM stays WHERE failed
        ),
        lived AS (
          SELECT life_id, ended_on, quantity FROM lives WHERE failed
        ),
        apart AS (
          (FROM stayed EXCEPT ALL FROM lived) UNION ALL (FROM lived EXCEPT ALL FROM stayed)
        )
        SELECT (SELECT count(*) FROM apart) = 0,
               (SELECT count(*) FROM stayed), (SELECT count(*) FROM lived), (SELECT count(*) FROM apart)""",
    ),
    "an episode's hours and energy are the sums of its months": (
        "{} episodes differ",
        """
        SELECT count(*) = 0, count(*)
        FROM burn_episodes e
        LEFT JOIN (
          SELECT
            incident_id, sum(kwh_central) AS kwh,
            CASE WHEN bool_and(cost_central IS NOT NULL) THEN sum(cost_central::DECIMAL(18, 6)) END AS cost,
            sum(excess_hours_central::DECIMAL(18, 6)) AS hours,
            sum(hours_without_load_central::DECIMAL(18, 6)) AS hours_without_load
          FROM burn_months GROUP BY ALL
        ) m USING (incident_id)
        WHERE e.left_out_reason IS NULL
          AND (e.kwh_central <> coalesce(m.kwh, 0) OR e.cost_central IS DISTINCT FROM m.cost
            OR e.excess_hours_central::DECIMAL(18, 6) <> coalesce(m.hours, 0)
            OR e.hours_without_load_central::DECIMAL(18, 6) <> coalesce(m.hours_without_load, 0))""",
    ),
    # Each row of either table is rounded to a millionth of a kilowatt-hour by itself.
    "a month's energy is split among accounts and periods of tariffs without rest": (
        "{} months differ",
        """
        SELECT count(*) = 0, count(*)
        FROM burn_months m
        LEFT JOIN (
          SELECT incident_id, month, sum(kwh_central) AS kwh, count(*) AS periods FROM burn_costs GROUP BY ALL
        ) c USING (incident_id, month)
        WHERE abs(m.kwh_central - coalesce(c.kwh, 0)) > 1e-5 * (1 + coalesce(c.periods, 0))""",
    ),
}


def fill_checks(store: Store) -> None:
    """Run every check and keep its verdict with the figures compared."""
    for name, (wording, query) in _CHECKS.items():
        holds, *compared = store.row(query)
        detail = wording.format(*(count_text(int(number or 0)) for number in compared))
        store.run("INSERT INTO checks VALUES (?, ?, ?)", [name, holds, detail])
