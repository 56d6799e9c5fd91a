-- Controls under observation in each month, on the mean of its days.
, months AS (
  SELECT unnest(generate_series(
    date_trunc('month', greatest(log.log_from, asked.first_day)),
    date_trunc('month', least(log.log_to, asked.last_day)),
    INTERVAL 1 MONTH))::DATE AS month
  FROM log CROSS JOIN asked
)
SELECT
  m.month,
  coalesce(sum(l.quantity * date_diff('day', greatest(l.entered_on, m.month),
                                      least(l.ended_on, (m.month + INTERVAL 1 MONTH)::DATE))), 0)
    / date_diff('day', m.month, (m.month + INTERVAL 1 MONTH)::DATE) AS controls_observed
FROM months m
LEFT JOIN chosen_lives l ON l.entered_on < m.month + INTERVAL 1 MONTH AND l.ended_on > m.month
GROUP BY m.month
ORDER BY m.month
