SELECT DISTINCT l.incident_id
FROM (SELECT *, {group_name} AS group_name FROM chosen_lives) l CROSS JOIN asked
WHERE l.group_name = $group AND l.failed AND l.excluded_reason IS NULL AND l.incident_id IS NOT NULL
  AND (asked.first_day IS NULL OR l.ended_on >= asked.first_day)
  AND (asked.last_day IS NULL OR l.ended_on <= asked.last_day)
ORDER BY l.incident_id
