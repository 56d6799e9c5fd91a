-- Controls replaced without having failed, each with the control that came after it at the place (a batch as a whole).
, starts AS (
  SELECT position, coalesce(kind, '') AS kind, started_on, sum(quantity)::BIGINT AS quantity
  FROM lives WHERE entered_on = started_on AND segment = 1 AND coalesce(excluded_reason NOT LIKE 'batch%', true)
  GROUP BY ALL
),
ends AS (
  SELECT
    l.site_id, coalesce(s.name, l.site_id) AS site, l.position, coalesce(l.kind, '') AS kind, l.model, l.lamp, l.end_reason,
    l.ended_on, l.quantity,
    -- a snapshot names the control it found; what a planned job had replaced before that day may have been another
    coalesce(l.ended_on <= c.as_of, false) AS model_unsure
  FROM lives l
  JOIN controls c ON c.control_id = l.control_id
  LEFT JOIN sites s ON s.site_id = l.site_id
  WHERE l.end_reason IN ('planned', 'removed') AND l.model IS NOT NULL
)
SELECT e.*, s.started_on AS renewed_on, s.quantity AS renewed
FROM ends e
ASOF LEFT JOIN starts s ON s.position = e.position AND s.kind = e.kind AND s.started_on >= e.ended_on
ORDER BY e.ended_on, e.site_id, e.position, e.kind
