, lighting AS (
  SELECT
    count(DISTINCT c.call_id) AS calls,
    count(DISTINCT c.call_id) FILTER (c.is_lighting) AS lighting,
    count(DISTINCT c.call_id) FILTER (c.is_lighting_by_text) AS lighting_by_text
  FROM calls c
  LEFT JOIN findings f ON f.call_id = c.call_id
  LEFT JOIN controls k ON k.control_id = f.control_id
  CROSS JOIN asked
  WHERE c.superseded_by IS NULL
    AND (asked.sites IS NULL OR list_contains(asked.sites, f.site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, k.kind))
    AND (asked.first_day IS NULL OR c.reported_at::DATE >= asked.first_day)
    AND (asked.last_day IS NULL OR c.reported_at::DATE <= asked.last_day)
)
SELECT
  l.*,
  (SELECT count(*) FROM chosen_incidents WHERE NOT is_planned) AS incidents,
  (SELECT count(*) FROM chosen_incidents WHERE NOT is_planned AND is_open) AS still_open,
  (SELECT count(*) FROM chosen_incidents WHERE is_planned) AS planned_works
FROM lighting l
