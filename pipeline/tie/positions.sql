-- Places that only the calls speak of: the asset or address as called in.
SELECT f.position, min(f.site_id) AS site_id, f.position AS label,
       median(c.latitude) AS latitude, median(c.longitude) AS longitude, 'calls' AS origin
FROM placed_findings f JOIN tie_calls c USING (call_id)
WHERE f.position IS NOT NULL AND f.position NOT IN (SELECT position FROM positions)
GROUP BY f.position
