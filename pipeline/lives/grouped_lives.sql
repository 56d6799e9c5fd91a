-- Lives that enter the age analyses, counted by group, entry age and exit age (whole days): what the fits need.
WITH named AS (
  SELECT
    unnest({names}, recursive := true),
    kind, entry_days, exit_days, failed, quantity
  FROM lives
  WHERE excluded_reason IS NULL
)
SELECT grouping, group_name, kind, entry_days, exit_days, failed, sum(quantity)::BIGINT AS quantity
FROM named
WHERE group_name IS NOT NULL
GROUP BY ALL
ORDER BY ALL
