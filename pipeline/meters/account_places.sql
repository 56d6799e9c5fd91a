-- Every account with a reading that is used and each of its sites, with the kinds of control behind which its lamps hang.
WITH lamps AS (
  SELECT a.account_id, c.site_id, list(DISTINCT c.kind ORDER BY c.kind) FILTER (c.kind IS NOT NULL) AS kinds
  FROM account_sites a
  JOIN controls c USING (site_id)
  LEFT JOIN fixtures f USING (control_id)
  WHERE f.account_id IS NULL OR f.account_id = a.account_id
  GROUP BY ALL
)
SELECT
  a.account_id, z.time_zone AS account_zone, s.site_id, s.latitude, s.longitude, s.time_zone,
  coalesce(l.kinds, []) AS kinds
FROM (SELECT DISTINCT account_id FROM meter_readings WHERE reason IS NULL) a
JOIN account_zones z USING (account_id)
LEFT JOIN account_sites USING (account_id)
LEFT JOIN sites s USING (site_id)
LEFT JOIN lamps l ON l.account_id = a.account_id AND l.site_id = s.site_id
ORDER BY a.account_id, s.site_id
