SELECT
  kind, {group_name} AS model_and_lamp,
  excluded_reason IS NULL AND started_on IS NOT NULL AS age_known,
  CASE WHEN excluded_reason IS NULL THEN date_diff('day', started_on, log.log_to) END AS age_days,
  sum(quantity)::BIGINT AS quantity
FROM chosen_lives CROSS JOIN log
WHERE end_reason = 'in service'
GROUP BY ALL
ORDER BY ALL
