-- One row per fault that a call reports or repairs.
SELECT
  finding_id, call_id, part_number, site_id, site_match, control_id, position, tie_method,
  tie_confidence, symptom, component, action, nullif(cause, '') AS cause, units,
  probability AS failed_probability, rule, evidence, incident_id
FROM judged_members
