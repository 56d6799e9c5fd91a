SELECT
  m.incident_id, i.site, i.control_id, i.first_reported_at, m.account_id, m.verdict, m.episode_id,
  m.delay_days, m.delay_lower_days, m.delay_upper_days, m.onset_measured, m.end_measured,
  b.kwh_central AS kwh, m.kwh_measured, m.kwh_measured_lower, m.kwh_measured_upper, m.share
FROM meter_matches m
JOIN chosen_incidents i ON i.incident_id = m.incident_id
LEFT JOIN burn_episodes b ON b.incident_id = m.incident_id
ORDER BY i.first_reported_at, m.incident_id
