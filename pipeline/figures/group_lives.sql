, grouped AS (
  SELECT
    {group_name} AS group_name, life_id, segment, kind,
    -- A period cuts a life at its edges: it enters at its age on the first day, and a failure after the last
    -- day has not been seen yet.
    greatest(entry_days, coalesce(date_diff('day', started_on, asked.first_day), entry_days)) AS entry_days,
    least(exit_days, coalesce(date_diff('day', started_on, asked.last_day) + 1, exit_days)) AS exit_days,
    failed AND coalesce(ended_on <= asked.last_day, true) AS failed,
    quantity
  FROM chosen_lives CROSS JOIN asked
  WHERE excluded_reason IS NULL
),
entering AS (
  SELECT *, segment = min(segment) OVER (PARTITION BY group_name, life_id) AS first_of_life
  FROM grouped
  WHERE (exit_days > entry_days OR (failed AND exit_days = entry_days)) AND group_name IS NOT NULL
    AND ($group::VARCHAR IS NULL OR group_name = $group)
)
SELECT group_name, kind, entry_days,
       -- a failure on the period's first day has half a day at risk, as one on the day of installation
       CASE WHEN failed AND exit_days = entry_days THEN entry_days + 0.5 ELSE exit_days END AS exit_days,
       failed, sum(quantity)::BIGINT AS quantity,
       -- as in pipeline/lives/grouped_lives.sql: a life cut where its load changes is one control still
       coalesce(sum(quantity) FILTER (first_of_life), 0)::BIGINT AS controls
FROM entering
GROUP BY ALL
ORDER BY ALL
