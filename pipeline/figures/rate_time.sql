, stretches AS (
  SELECT
    {group_name} AS group_name,
    quantity * greatest(0, date_diff('day',
      greatest(entered_on, coalesce(asked.first_day, entered_on)),
      least(ended_on, coalesce(asked.last_day + 1, ended_on)))) AS control_days
  FROM chosen_lives CROSS JOIN asked
)
SELECT group_name, sum(control_days) / 365.25 AS control_years
FROM stretches WHERE group_name IS NOT NULL
GROUP BY ALL HAVING sum(control_days) > 0
ORDER BY ALL
