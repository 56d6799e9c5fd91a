-- Working table: which load a control switched from when to when. Several fixture groups at once make one combined
-- load. A control that only drives another device's coil carries that coil. The spans of a control cover all time: where
-- no fixture is on record its lamp is empty, and the time at risk still counts. Stress is empty where a driver's peak has
-- no default. driver_peaks: the working table of pipeline.inrush.driver_peaks.
CREATE OR REPLACE TEMP TABLE lamp_spans AS
WITH switched AS (
  SELECT * FROM control_loads WHERE NOT through_coil
),
edges AS (
  SELECT control_id, begins AS edge FROM switched
  UNION
  SELECT control_id, ends FROM switched
  UNION
  SELECT control_id, unnest([DATE '1900-01-01', DATE '9999-01-01']) FROM controls
),
spans AS (
  SELECT control_id, edge AS begins, lead(edge) OVER (PARTITION BY control_id ORDER BY edge) AS ends
  FROM edges
),
loads AS (
  SELECT
    s.control_id, s.begins, s.ends,
    coalesce(
      string_agg(DISTINCT coalesce(l.lamp, 'unknown'), ' + ' ORDER BY coalesce(l.lamp, 'unknown'))
        FILTER (l.fixture_id IS NOT NULL),
      CASE WHEN any_value(c.switched_by) IS NOT NULL THEN 'contactor coil' END) AS lamp,
    CASE WHEN coalesce(bool_and(p.peak_a IS NOT NULL) FILTER (p.fixture_id IS NOT NULL), false)
         THEN sum(p.peak_a) / nullif(any_value(c.rated_inrush_a), 0) END AS inrush_stress,
    bool_or(p.unverified) AS inrush_unverified
  FROM spans s
  JOIN controls c ON c.control_id = s.control_id
  LEFT JOIN switched l ON l.control_id = s.control_id AND l.begins <= s.begins AND l.ends >= s.ends
  LEFT JOIN driver_peaks p ON p.control_id = l.control_id AND p.fixture_id = l.fixture_id
  WHERE s.ends IS NOT NULL
  GROUP BY ALL
),
runs AS (
  SELECT *, sum(CASE WHEN lamp IS NOT DISTINCT FROM lag_lamp AND inrush_stress IS NOT DISTINCT FROM lag_stress
                          AND begins = lag_ends THEN 0 ELSE 1 END)
            OVER (PARTITION BY control_id ORDER BY begins) AS run
  FROM (
    SELECT *, lag(lamp) OVER w AS lag_lamp, lag(inrush_stress) OVER w AS lag_stress, lag(ends) OVER w AS lag_ends
    FROM loads
    WINDOW w AS (PARTITION BY control_id ORDER BY begins)
  )
)
SELECT control_id, min(begins) AS begins, max(ends) AS ends, any_value(lamp) AS lamp, any_value(inrush_stress) AS inrush_stress,
       bool_or(inrush_unverified) AS inrush_unverified
FROM runs
GROUP BY control_id, run;
