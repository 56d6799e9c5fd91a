, chosen_episodes AS (
  SELECT e.* FROM meter_episodes e JOIN meter_accounts a USING (account_id) CROSS JOIN asked
  WHERE (asked.sites IS NULL OR list_has_any(a.sites, asked.sites))
    AND (asked.first_day IS NULL OR e.ended_central::DATE >= asked.first_day)
    AND (asked.last_day IS NULL OR e.onset_central::DATE <= asked.last_day)
),
kinds(place, verdict, finding, in_total) AS (VALUES
  (1, 'both', 'called in and on the meter', true),
  (2, 'not on the meter', 'called in, not on the meter', true),
  (3, 'too small to see', 'called in, too small or short to see on the meter', true),
  (4, 'no readings then', 'called in, no readings then', true),
  (5, 'account refused', 'called in, nothing can be told from the account', true),
  (6, 'never called in', 'found by the meter, never called in', false),
  (7, 'outside the log', 'found by the meter while no log was kept', false)
),
called_in AS (
  SELECT
    m.verdict, count(*) AS incidents, count(DISTINCT m.episode_id) AS episodes,
    sum(b.kwh_central) AS kwh,
    sum(coalesce(m.kwh_measured_lower, b.kwh_low)) AS kwh_lower, sum(coalesce(m.kwh_measured_upper, b.kwh_high)) AS kwh_upper,
    count(m.kwh_measured) AS measured,
    median(m.delay_days) AS median_delay_days,
    list(m.incident_id ORDER BY i.first_reported_at, m.incident_id) AS incident_ids
  FROM meter_matches m
  JOIN chosen_incidents i ON i.incident_id = m.incident_id
  LEFT JOIN burn_episodes b ON b.incident_id = m.incident_id
  GROUP BY m.verdict
),
found AS (
  SELECT
    found AS verdict, 0 AS incidents, count(*) AS episodes,
    sum(kwh) AS kwh, sum(kwh_lower) AS kwh_lower, sum(kwh_upper) AS kwh_upper, count(*) AS measured, NULL AS median_delay_days,
    [] AS incident_ids
  FROM chosen_episodes WHERE found <> 'both' GROUP BY found
)
SELECT k.finding, k.verdict, k.in_total, r.* EXCLUDE (verdict)
FROM (FROM called_in UNION ALL FROM found) r
JOIN kinds k ON k.verdict = r.verdict
ORDER BY k.place
