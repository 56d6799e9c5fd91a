, reports AS (
  SELECT
    m.episode_id, min(i.first_reported_at) AS first_reported_at, min(m.delay_days) AS delay_days,
    list(m.incident_id ORDER BY i.first_reported_at) AS incident_ids
  FROM meter_matches m JOIN incidents i ON i.incident_id = m.incident_id
  WHERE m.episode_id IS NOT NULL GROUP BY m.episode_id
)
SELECT
  e.episode_id, e.account_id,
  (SELECT string_agg(coalesce(s.name, s.site_id), ', ' ORDER BY s.site_id) FROM sites s WHERE list_contains(a.sites, s.site_id)) AS sites,
  e.found, CASE e.found WHEN 'both' THEN 'called in' ELSE e.found END AS called_in, e.onset_high, e.onset_central, e.onset_low, e.ended_low, e.ended_central, e.ended_high,
  e.begins_before_data, e.is_open, e.step_kw, e.days, e.excess_hours, e.kwh, e.kwh_lower, e.kwh_upper, e.filled_hours,
  r.first_reported_at, r.delay_days, r.incident_ids
FROM meter_episodes e
JOIN meter_accounts a USING (account_id)
LEFT JOIN reports r ON r.episode_id = e.episode_id
CROSS JOIN asked
WHERE (asked.sites IS NULL OR list_has_any(a.sites, asked.sites))
  AND (asked.first_day IS NULL OR e.ended_central::DATE >= asked.first_day)
  AND (asked.last_day IS NULL OR e.onset_central::DATE <= asked.last_day)
ORDER BY e.onset_central, e.episode_id
