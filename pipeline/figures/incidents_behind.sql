, paying AS (
  SELECT DISTINCT site_id, kind, model FROM chosen_options WHERE net_savings > 0
)
SELECT incident_id FROM placed_incidents
WHERE $key = 'burning now' AND symptom = 'day burning' AND is_open
UNION ALL
SELECT incident_id FROM chosen_incidents
WHERE $key = 'failures' AND failed_probability > 0
UNION ALL
SELECT incident_id FROM placed_incidents
WHERE $key = 'all failures' AND control_failed
UNION ALL
SELECT DISTINCT m.incident_id FROM chosen_months m
WHERE $key = 'wasted energy'
UNION ALL
SELECT p.incident_id FROM placed_incidents p
SEMI JOIN paying o ON o.site_id = p.site_id AND o.kind = p.kind AND o.model IS NOT DISTINCT FROM p.model
WHERE $key = 'savings' AND (p.control_failed OR p.incident_id IN (SELECT incident_id FROM burn_episodes))
ORDER BY incident_id
