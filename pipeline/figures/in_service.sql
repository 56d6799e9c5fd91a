, open_in_batches AS (
  -- Members of a batch that have failed and are not yet replaced: they are not at risk.
  SELECT control_id, sum(units) AS open_units FROM incidents WHERE is_open AND control_failed GROUP BY control_id
),
working AS (
  SELECT
    l.site_id, coalesce(s.name, l.site_id) AS site, l.kind, l.model, l.lamp,
    -- The members of an older batch, whose lives cannot be drawn, are of mixed and unknown ages.
    CASE WHEN coalesce(l.excluded_reason NOT LIKE 'batch%', true)
         THEN date_diff('day', l.started_on, log.log_to) END AS age_days,
    l.quantity - CASE WHEN l.excluded_reason LIKE 'batch%' THEN coalesce(o.open_units, 0) ELSE 0 END AS quantity
  FROM chosen_lives l CROSS JOIN log
  LEFT JOIN sites s ON s.site_id = l.site_id
  LEFT JOIN open_in_batches o ON o.control_id = l.control_id
  WHERE l.end_reason = 'in service'
)
SELECT site_id, site, kind, model, lamp, age_days, sum(quantity)::BIGINT AS quantity
FROM working WHERE quantity > 0
GROUP BY ALL
ORDER BY ALL
