-- Working table: which load stood behind a place from when to when. Several fixture groups at once make one
-- combined load. A place whose control only drives another device's coil carries that coil. The spans of a place cover
-- all time: where no fixture is on record its lamp is empty, and the time at risk still counts.
CREATE OR REPLACE TEMP TABLE lamp_spans AS
WITH groups AS (
  SELECT c.position, coalesce(c.kind, '') AS kind, f.fixture_id, f.lamp, f.drivers, f.inrush_peak_a_each,
         c.rated_inrush_a, c.quantity,
         -- Where controls followed one another, an undated fixture was there as long as its own control.
         coalesce(f.installed_on, CASE WHEN p.rows > 1 THEN c.installed_on END, DATE '1900-01-01') AS begins,
         coalesce(f.removed_on, CASE WHEN p.rows > 1 THEN c.removed_on END, DATE '9999-01-01') AS ends
  FROM fixtures f
  JOIN controls c USING (control_id)
  JOIN (SELECT position, count(*) AS rows FROM controls GROUP BY position) p ON p.position = c.position
),
edges AS (
  SELECT position, kind, begins AS edge FROM groups
  UNION
  SELECT position, kind, ends FROM groups
  UNION
  SELECT position, kind, unnest([DATE '1900-01-01', DATE '9999-01-01']) FROM groups
),
spans AS (
  SELECT position, kind, edge AS begins, lead(edge) OVER (PARTITION BY position, kind ORDER BY edge) AS ends
  FROM edges
),
loads AS (
  SELECT
    s.position, s.kind, s.begins, s.ends,
    string_agg(DISTINCT coalesce(g.lamp, 'unknown'), ' + ' ORDER BY coalesce(g.lamp, 'unknown'))
      FILTER (g.fixture_id IS NOT NULL) AS lamp,
    sum((g.drivers * g.inrush_peak_a_each)::DECIMAL(18, 6))::DOUBLE / max(g.quantity) / nullif(max(g.rated_inrush_a), 0) AS inrush_stress
  FROM spans s
  LEFT JOIN groups g ON g.position = s.position AND g.kind = s.kind AND g.begins <= s.begins AND g.ends >= s.ends
  WHERE s.ends IS NOT NULL
  GROUP BY ALL
),
coils AS (
  SELECT DISTINCT position, coalesce(kind, '') AS kind
  FROM controls
  WHERE switched_by IS NOT NULL AND (position, coalesce(kind, '')) NOT IN (SELECT (position, kind) FROM groups)
),
runs AS (
  SELECT *, sum(CASE WHEN lamp IS NOT DISTINCT FROM lag_lamp AND inrush_stress IS NOT DISTINCT FROM lag_stress
                          AND begins = lag_ends THEN 0 ELSE 1 END)
            OVER (PARTITION BY position, kind ORDER BY begins) AS run
  FROM (
    SELECT *, lag(lamp) OVER w AS lag_lamp, lag(inrush_stress) OVER w AS lag_stress, lag(ends) OVER w AS lag_ends
    FROM loads
    WINDOW w AS (PARTITION BY position, kind ORDER BY begins)
  )
)
SELECT position, kind, min(begins) AS begins, max(ends) AS ends, any_value(lamp) AS lamp, any_value(inrush_stress) AS inrush_stress
FROM runs
GROUP BY position, kind, run
UNION ALL
SELECT position, kind, DATE '1900-01-01', DATE '9999-01-01', 'contactor coil', NULL FROM coils;
