-- Failures per time at risk, whatever their ages: every stretch counts as time, excluded from ages or not. Failures
-- are the incidents reported while the site's log was kept, counted where their place was then, and those that only
-- the register tells of.
WITH stretches AS (
  SELECT *, quantity * date_diff('day', entered_on, ended_on) AS control_days FROM lives
),
failed AS (
  SELECT i.incident_id, i.units, s.kind, s.model, s.switching, s.lamp
  FROM incidents i
  ASOF JOIN (
    SELECT DISTINCT ON (control_id, entered_on) control_id, entered_on, kind, model, switching, lamp
    FROM lives ORDER BY control_id, entered_on, ended_on DESC
  ) s ON i.control_id = s.control_id AND i.first_reported_at >= s.entered_on
  JOIN observation_windows w
    ON w.site_id = i.site_id AND i.first_reported_at::DATE BETWEEN w.observed_from AND w.observed_to
  WHERE i.control_failed
  UNION ALL
  SELECT life_id, quantity, kind, model, switching, lamp FROM lives WHERE failed AND incident_id IS NULL
),
time_by_group AS (
  SELECT grouping, group_name, sum(control_days) / 365.25 AS control_years
  FROM (SELECT unnest({names}, recursive := true), control_days FROM stretches)
  WHERE group_name IS NOT NULL GROUP BY ALL
),
failures_by_group AS (
  SELECT grouping, group_name, sum(units)::BIGINT AS failures
  FROM (SELECT unnest({names}, recursive := true), units FROM failed)
  WHERE group_name IS NOT NULL GROUP BY ALL
)
SELECT grouping, group_name, coalesce(failures, 0) AS failures, control_years
FROM time_by_group LEFT JOIN failures_by_group USING (grouping, group_name)
WHERE control_years > 0
ORDER BY ALL
