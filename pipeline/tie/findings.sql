-- One row per fault that a call reports or repairs.
SELECT
  finding_id, call_id, part_number, site_id, site_match, control_id, position, tie_method,
  tie_confidence, symptom, component, action, nullif(cause, '') AS cause, units,
  share_of_lamps, burning_shift_h, dark_shift_h, nullif(burning_edge, '') AS burning_edge,
  probability AS failed_probability, rule, evidence, incident_id
FROM judged_members
