-- Places that only the calls speak of: the asset or address as called in.
SELECT position, min(site_id) AS site_id, position AS label,
       median(latitude) AS latitude, median(longitude) AS longitude, 'calls' AS origin
FROM placed_findings
WHERE position IS NOT NULL AND position NOT IN (SELECT position FROM positions)
GROUP BY position
