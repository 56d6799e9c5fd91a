-- Night hours without light of each incident, with the luminaires behind its control on the day when they went out: of a
-- batch those of as many members as failed, and the share that the text states.
WITH behind AS (
  SELECT u.incident_id, sum(l.luminaires * least(coalesce(i.units, 1), l.shared_by)) AS luminaires
  FROM unlit_rows u
  JOIN incidents i USING (incident_id)
  JOIN control_loads l ON l.control_id = u.control_id AND l.begins <= u.onset::DATE AND u.onset::DATE < l.ends
  GROUP BY u.incident_id
)
SELECT u.* EXCLUDE (onset), b.luminaires * coalesce(i.share_of_lamps, 1) AS luminaires
FROM unlit_rows u
LEFT JOIN behind b USING (incident_id)
LEFT JOIN incidents i USING (incident_id)
ORDER BY u.incident_id
