, spans AS (
  SELECT
    year(p.reported_on) AS year,
    p.symptom,
    date_diff('second', p.first_reported_at,
      CASE WHEN p.is_open THEN log.log_to + INTERVAL 1 DAY ELSE p.restored_central END) / 86400.0 AS days,
    NOT p.is_open AS restored
  FROM chosen_incidents p CROSS JOIN log
  WHERE NOT p.is_planned
)
SELECT year, symptom, 0.0 AS entry_days, greatest(days, $shortest_days) AS exit_days, restored AS failed,
       count(*) AS quantity
FROM spans
WHERE days IS NOT NULL
GROUP BY ALL
ORDER BY ALL
