-- Lives that enter the age analyses, counted by group, entry age and exit age (whole days): what the fits need.
-- controls: those of them that no other row of the group has counted, for a life cut where its load changes is one
-- control still.
WITH named AS (
  SELECT
    unnest({names}, recursive := true),
    life_id, segment, kind, entry_days, exit_days, failed, quantity
  FROM lives
  WHERE excluded_reason IS NULL
),
once AS (
  SELECT *, segment = min(segment) OVER (PARTITION BY grouping, group_name, life_id) AS first_of_life FROM named
)
SELECT
  grouping, group_name, kind, entry_days, exit_days, failed, sum(quantity)::BIGINT AS quantity,
  coalesce(sum(quantity) FILTER (first_of_life), 0)::BIGINT AS controls
FROM once
WHERE group_name IS NOT NULL
GROUP BY ALL
ORDER BY ALL
