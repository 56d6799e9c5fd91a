, loads AS (
  SELECT l.control_id, string_agg(DISTINCT l.lamp, ', ' ORDER BY l.lamp) AS lamps
  FROM control_loads l CROSS JOIN log
  WHERE l.begins <= log.log_to AND log.log_to < l.ends
  GROUP BY l.control_id
)
SELECT
  p.incident_id, p.site_id, p.site, p.control_id, p.position, p.kind, p.model, loads.lamps,
  b.connected_w,
  p.controls,
  p.reported_on AS first_reported_on,
  date_diff('day', p.reported_on, log.log_to) AS age_days,
  b.kwh_per_day,
  b.cost_per_day,
  b.kwh_low, b.kwh_central, b.kwh_high,
  b.cost_low, b.cost_central, b.cost_high,
  p.last_evidence_at::DATE AS last_evidence_on,
  date_diff('day', p.last_evidence_at::DATE, log.log_to) AS days_since_evidence,
  date_diff('day', p.last_evidence_at::DATE, log.log_to) > $stale_after_days AS stale,
  p.last_evidence, p.failed_probability, p.cause, p.calls,
  array_to_string(p.flags, ', ') AS flags,
  b.left_out_reason
FROM placed_incidents p
CROSS JOIN log
LEFT JOIN burn_episodes b ON b.incident_id = p.incident_id
LEFT JOIN loads ON loads.control_id = p.control_id
WHERE p.symptom = 'day burning' AND p.is_open
ORDER BY b.cost_per_day DESC NULLS LAST, b.kwh_per_day DESC NULLS LAST, p.reported_on, p.incident_id
