, stretches AS (
  SELECT
    {group_name} AS group_name,
    quantity * greatest(0, date_diff('day',
      greatest(entered_on, coalesce(asked.first_day, entered_on)),
      least(ended_on, coalesce(asked.last_day + 1, ended_on)))) AS control_days
  FROM chosen_lives CROSS JOIN asked
),
time_by_group AS (
  SELECT group_name, sum(control_days) / 365.25 AS control_years FROM stretches WHERE group_name IS NOT NULL GROUP BY ALL
),
stations AS (
  SELECT DISTINCT ON (control_id, entered_on) control_id, entered_on, {group_name} AS group_name
  FROM lives ORDER BY control_id, entered_on, ended_on DESC
),
-- The same failures as in failure_rates: reported while the site's log was kept, or told by the register alone.
failed AS (
  SELECT t.group_name, i.units
  FROM chosen_incidents i
  ASOF JOIN stations t ON i.control_id = t.control_id AND i.first_reported_at >= t.entered_on
  JOIN observation_windows w
    ON w.site_id = i.site_id AND i.first_reported_at::DATE BETWEEN w.observed_from AND w.observed_to
  WHERE i.control_failed
  UNION ALL
  SELECT {group_name}, quantity
  FROM chosen_lives CROSS JOIN asked
  WHERE failed AND incident_id IS NULL
    AND coalesce(ended_on >= asked.first_day, true) AND coalesce(ended_on <= asked.last_day, true)
),
failures_by_group AS (
  SELECT group_name, sum(units)::BIGINT AS failures FROM failed WHERE group_name IS NOT NULL GROUP BY ALL
)
SELECT group_name, coalesce(failures, 0)::BIGINT AS failures_in_rate, control_years AS control_years_in_rate
FROM time_by_group LEFT JOIN failures_by_group USING (group_name)
WHERE control_years > 0
ORDER BY group_name
