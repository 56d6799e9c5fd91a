, wanted AS (
  SELECT unnest($incident_ids::VARCHAR[]) AS incident_id
)
SELECT
  i.incident_id,
  c.call_id,
  s.name AS source_file,
  c.row_number,
  c.call_number,
  c.reported_at, c.completed_at, c.status,
  i.site, i.position, i.control_id,
  f.symptom, f.component, f.action, f.failed_probability,
  c.problem_text, c.action_text, f.evidence,
  i.calls AS calls_of_incident
FROM wanted w
JOIN placed_incidents i ON i.incident_id = w.incident_id
JOIN findings f ON f.incident_id = i.incident_id
JOIN calls c ON c.call_id = f.call_id
JOIN source_files s ON s.file_id = c.file_id
ORDER BY i.first_reported_at, i.incident_id, c.reported_at, c.call_id, f.part_number
