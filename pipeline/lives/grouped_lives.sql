-- Lives that enter the age analyses, counted by group and ages (whole days): what the fits need. Draw 0 is the table of
-- lives; the other draws say what they add to it, and take away (quantity below 0).
-- controls: those of them that no other row of the group has counted, for a life cut where its load changes is one
-- control still.
WITH named AS (
  SELECT
    unnest({names}, recursive := true), 0 AS draw,
    life_id, segment, kind, entry_days, exit_days, exit_low_days, exit_central_days, failed, quantity
  FROM lives
  WHERE excluded_reason IS NULL
),
once AS (
  SELECT *, segment = min(segment) OVER (PARTITION BY grouping, group_name, life_id) AS first_of_life FROM named
),
drawn AS (
  SELECT
    unnest({names}, recursive := true), draw,
    kind, entry_days, exit_days, exit_low_days, exit_central_days, failed, quantity, false AS first_of_life
  FROM life_draws
)
SELECT
  grouping, group_name, draw, kind, entry_days, exit_days, exit_low_days, exit_central_days, failed,
  sum(quantity)::BIGINT AS quantity,
  coalesce(sum(quantity) FILTER (first_of_life), 0)::BIGINT AS controls
FROM (FROM once UNION ALL BY NAME FROM drawn)
WHERE group_name IS NOT NULL
GROUP BY ALL
HAVING sum(quantity) <> 0
ORDER BY ALL
