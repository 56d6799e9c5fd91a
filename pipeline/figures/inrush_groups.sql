-- Every fixture group with drivers, behind the device that switches it, as it stood at the log's end. A batch shares its
-- fixtures evenly, so drivers are those of one control.
, devices AS (
  SELECT c.*, coalesce(s.name, c.site_id) AS site
  FROM controls c
  LEFT JOIN sites s ON s.site_id = c.site_id
  CROSS JOIN log CROSS JOIN asked
  WHERE coalesce(c.installed_on <= log.log_to, true) AND coalesce(c.removed_on > log.log_to, true)
    AND (asked.sites IS NULL OR list_contains(asked.sites, c.site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, c.kind))
  -- of successive controls of a place the latest is there; each batch stands for itself
  QUALIFY row_number() OVER (
    PARTITION BY c.position, coalesce(c.kind, ''), CASE WHEN c.quantity > 1 THEN c.control_id END
    ORDER BY c.installed_on DESC NULLS LAST, c.control_id DESC) = 1
),
failed AS (
  SELECT c.position, coalesce(c.kind, '') AS kind, sum(i.units)::BIGINT AS failures
  FROM incidents i JOIN controls c ON c.control_id = i.control_id
  WHERE i.control_failed
  GROUP BY ALL
)
SELECT
  d.control_id, d.site_id, d.site, d.position, d.kind, d.model, d.switching, d.quantity AS circuits, d.voltage_v,
  d.rated_inrush_a, coalesce(failed.failures, 0) AS failures,
  l.fixture_id, l.lamp, l.drivers, l.drivers_supposed, l.peak_a_each, l.watts_each
FROM devices d
JOIN driver_groups l ON l.control_id = d.control_id
LEFT JOIN failed ON failed.position = d.position AND failed.kind = coalesce(d.kind, '')
CROSS JOIN log
WHERE l.begins <= log.log_to AND log.log_to < l.ends
ORDER BY d.control_id, l.fixture_id
