-- One row per fault that a call reports or repairs.
SELECT
  j.finding_id, j.call_id, j.part_number, j.site_id, j.site_match, j.control_id, j.position, j.tie_method,
  j.tie_confidence, j.symptom, j.component, j.action, nullif(j.cause, '') AS cause, j.units,
  j.share_of_lamps, j.burning_shift_h, j.dark_shift_h, nullif(j.burning_edge, '') AS burning_edge,
  j.probability AS failed_probability, j.rule, p.evidence || j.verdict_said AS evidence, j.incident_id
FROM judged_members j JOIN placed_findings p USING (finding_id)
