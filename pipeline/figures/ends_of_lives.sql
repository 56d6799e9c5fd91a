-- Lives as read by kind, age and how they ended; what still worked, or goes on elsewhere, ends by nothing.
, cut AS (
  SELECT
    kind, quantity,
    greatest(entry_days, coalesce(date_diff('day', started_on, asked.first_day), entry_days)) AS entry_days,
    least(exit_central_days, coalesce(date_diff('day', started_on, asked.last_day) + 1, exit_central_days)) AS exit_days,
    coalesce(ended_on <= asked.last_day, true) AS in_period, failed, end_reason
  FROM chosen_lives CROSS JOIN asked
  WHERE excluded_reason IS NULL AND kind IS NOT NULL
)
SELECT
  kind, entry_days, CASE WHEN exit_days = entry_days THEN entry_days + 0.5 ELSE exit_days END AS exit_days,
  failed AND in_period AS failed,
  CASE WHEN NOT in_period OR end_reason IN ('in service', 'load changed', 'record interrupted') THEN NULL
       WHEN end_reason IN ('fails on', 'fails off') THEN end_reason ELSE 'other' END AS end_reason,
  sum(quantity)::BIGINT AS quantity
FROM cut
WHERE exit_days > entry_days OR (failed AND in_period AND exit_days = entry_days)
GROUP BY ALL
ORDER BY ALL
