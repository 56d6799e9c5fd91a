-- When each site's log was kept, in days since it first was: what a site was at risk of being called from.
, kept AS (
  SELECT
    w.site_id, coalesce(s.name, w.site_id) AS site,
    greatest(w.observed_from, coalesce(asked.first_day, w.observed_from)) AS first_day,
    least(w.observed_to, coalesce(asked.last_day, w.observed_to)) AS last_day
  FROM observation_windows w
  LEFT JOIN sites s ON s.site_id = w.site_id
  CROSS JOIN asked
  WHERE asked.sites IS NULL OR list_contains(asked.sites, w.site_id)
)
SELECT site_id, site, first_day, last_day
FROM kept
WHERE last_day >= first_day
ORDER BY site_id, first_day
