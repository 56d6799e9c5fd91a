-- Night hours without light of each incident, with the luminaires behind its control on the day when they went out.
WITH behind AS (
  SELECT u.incident_id, sum(l.luminaires::DECIMAL(18, 6)) AS luminaires
  FROM unlit_rows u
  JOIN control_loads l ON l.control_id = u.control_id AND l.begins <= u.onset::DATE AND u.onset::DATE < l.ends
  GROUP BY u.incident_id
)
SELECT u.* EXCLUDE (onset), b.luminaires * coalesce(i.share_of_lamps, 1) AS luminaires
FROM unlit_rows u
LEFT JOIN behind b USING (incident_id)
LEFT JOIN incidents i USING (incident_id)
ORDER BY u.incident_id
