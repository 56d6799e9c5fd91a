, stretches AS (
  SELECT
    {group_name} AS group_name,
    quantity * greatest(0, date_diff('day',
      greatest(entered_on, coalesce(asked.first_day, entered_on)),
      least(ended_on, coalesce(asked.last_day, ended_on)))) / 365.25 AS years
  FROM chosen_lives CROSS JOIN asked
),
time_by_group AS (
  SELECT group_name, sum(years) AS control_years FROM stretches WHERE group_name IS NOT NULL GROUP BY ALL
),
stations AS (
  SELECT DISTINCT ON (control_id, entered_on) control_id, entered_on, {group_name} AS group_name
  FROM lives ORDER BY control_id, entered_on, ended_on DESC
),
failures_by_group AS (
  SELECT t.group_name, sum(i.units)::BIGINT AS failures
  FROM chosen_incidents i
  ASOF JOIN stations t ON i.control_id = t.control_id AND i.first_reported_at >= t.entered_on
  WHERE i.control_failed AND t.group_name IS NOT NULL
  GROUP BY ALL
)
SELECT group_name, coalesce(failures, 0)::BIGINT AS failures_in_rate, control_years AS control_years_in_rate
FROM time_by_group LEFT JOIN failures_by_group USING (group_name)
WHERE control_years > 0
ORDER BY group_name
