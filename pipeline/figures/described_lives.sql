-- Lives that enter the age analyses with all that may shorten them. Draw 0 is the table of lives; the others say what each
-- draw of the open verdicts adds to it, and takes away (quantity below 0).
, described AS (
  SELECT 0 AS draw, site_id, kind, model, switching, lamp, inrush_stress, operations_per_year, entry_days, exit_days,
         exit_low_days, failed, quantity
  FROM lives WHERE excluded_reason IS NULL
  UNION ALL BY NAME
  SELECT draw, site_id, kind, model, switching, lamp, inrush_stress, operations_per_year, entry_days, exit_days,
         exit_low_days, failed, quantity
  FROM life_draws
)
SELECT draw, kind, model, switching, lamp AS lamps, inrush_stress, operations_per_year, entry_days, exit_days,
       exit_low_days, failed, sum(quantity)::BIGINT AS quantity
FROM described CROSS JOIN asked
WHERE (asked.sites IS NULL OR list_contains(asked.sites, site_id))
  AND (asked.kinds IS NULL OR list_contains(asked.kinds, kind))
  AND ($kind::VARCHAR IS NULL OR kind = $kind)
GROUP BY ALL
HAVING sum(quantity) <> 0
ORDER BY ALL
