, told AS (
  SELECT i.incident_id, i.symptom, coalesce(b.left_out_reason, 'its text does not say by how many hours its time was wrong') AS left_out_reason
  FROM chosen_incidents i
  LEFT JOIN burn_episodes b USING (incident_id)
  WHERE b.left_out_reason IS NOT NULL
    OR (i.symptom = 'wrong time' AND i.burning_shift_h IS NULL AND i.dark_shift_h IS NULL)
)
SELECT symptom, left_out_reason, count(*) AS incidents, list(incident_id ORDER BY incident_id) AS incident_ids
FROM told
GROUP BY ALL
ORDER BY incidents DESC, symptom, left_out_reason
