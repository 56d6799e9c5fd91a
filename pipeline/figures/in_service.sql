SELECT
  kind, model, lamp,
  -- The members of a batch that has had failures, or may have, are of mixed ages.
  CASE WHEN coalesce(excluded_reason NOT LIKE 'batch%', true)
       THEN date_diff('day', started_on, log.log_to) END AS age_days,
  sum(quantity)::BIGINT AS quantity
FROM chosen_lives CROSS JOIN log
WHERE end_reason = 'in service'
GROUP BY ALL
ORDER BY ALL
