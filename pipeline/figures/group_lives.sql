, stretches AS (
  SELECT
    {group_name} AS group_name, 0 AS draw, life_id, segment, site_id, kind, started_on, ended_on,
    entry_days, exit_days, exit_low_days, exit_central_days, failed, quantity
  FROM lives
  WHERE excluded_reason IS NULL
  UNION ALL
  SELECT
    {group_name}, draw, NULL, NULL, site_id, kind, started_on, ended_on,
    entry_days, exit_days, exit_low_days, exit_central_days, failed, quantity
  FROM life_draws
),
grouped AS (
  SELECT
    group_name, draw, life_id, segment, kind, quantity,
    -- A period cuts a life at its edges: it enters at its age on the first day, and a failure after the last
    -- day has not been seen yet.
    greatest(entry_days, coalesce(date_diff('day', started_on, asked.first_day), entry_days)) AS entry_days,
    least(exit_days, coalesce(date_diff('day', started_on, asked.last_day) + 1, exit_days)) AS exit_days,
    exit_low_days,
    least(exit_central_days, coalesce(date_diff('day', started_on, asked.last_day) + 1, exit_central_days))
      AS exit_central_days,
    failed AND coalesce(ended_on <= asked.last_day, true) AS failed
  FROM stretches CROSS JOIN asked
  WHERE (asked.sites IS NULL OR list_contains(asked.sites, site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, kind))
    AND group_name IS NOT NULL AND ($group::VARCHAR IS NULL OR group_name = $group)
),
entering AS (
  SELECT *, segment = min(segment) OVER (PARTITION BY group_name, life_id) AS first_of_life
  FROM grouped
  -- the central day decides whether a life was there, and whether it failed, within the period
  WHERE exit_central_days > entry_days OR (failed AND exit_central_days = entry_days)
),
ended AS (
  SELECT
    * REPLACE (
      -- a failure on the period's first day has half a day at risk, as one on the day of installation
      CASE WHEN failed AND exit_central_days = entry_days THEN entry_days + 0.5 ELSE exit_central_days END
        AS exit_central_days,
      -- greatest passes over an empty value: an exact age must stay exact
      CASE WHEN failed AND exit_low_days IS NOT NULL THEN greatest(exit_low_days, entry_days) END AS exit_low_days
    )
  FROM entering
)
SELECT group_name, draw, kind, entry_days,
       CASE WHEN failed AND exit_days > exit_low_days THEN exit_days ELSE exit_central_days END AS exit_days,
       CASE WHEN exit_days > exit_low_days THEN exit_low_days END AS exit_low_days,
       exit_central_days, failed, sum(quantity)::BIGINT AS quantity,
       -- as in pipeline/lives/grouped_lives.sql: a life cut where its load changes is one control still
       coalesce(sum(quantity) FILTER (draw = 0 AND first_of_life), 0)::BIGINT AS controls
FROM ended
GROUP BY ALL
HAVING sum(quantity) <> 0
ORDER BY ALL
