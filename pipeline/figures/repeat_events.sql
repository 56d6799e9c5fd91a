-- Incidents, control failures, or lighting calls (no planned work), by site and day of report.
, incidents_of_sites AS (
  SELECT incident_id, site_id, reported_on, control_failed FROM chosen_incidents
  WHERE NOT is_planned AND site_id IS NOT NULL
)
SELECT site_id, reported_on AS day, incident_id
FROM incidents_of_sites
WHERE $counted = 'incidents' OR ($counted = 'control failures' AND control_failed)
UNION ALL
SELECT DISTINCT i.site_id, c.reported_at::DATE, i.incident_id || ' ' || c.call_id
FROM incidents_of_sites i
JOIN findings f ON f.incident_id = i.incident_id
JOIN calls c ON c.call_id = f.call_id
WHERE $counted = 'calls' AND c.superseded_by IS NULL AND c.reported_at IS NOT NULL
ORDER BY ALL
