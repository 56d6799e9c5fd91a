-- Matched incidents with what the meter says of them: the delay to the first report, and their part of the energy.
SELECT
  m.incident_id, m.account_id, m.episode_id::VARCHAR AS episode_id, m.verdict, m.share::DOUBLE AS share,
  CASE WHEN NOT e.begins_before_data THEN epoch(i.first_reported_at - e.onset_central) / 86400 END AS delay_days,
  CASE WHEN NOT e.begins_before_data THEN epoch(i.first_reported_at - e.onset_low) / 86400 END AS delay_lower_days,
  CASE WHEN NOT e.begins_before_data THEN epoch(i.first_reported_at - e.onset_high) / 86400 END AS delay_upper_days,
  coalesce(NOT e.begins_before_data, false) AS onset_measured,
  coalesce(NOT e.is_open, false) AS end_measured,
  CASE WHEN NOT (e.begins_before_data OR e.is_open) THEN m.share * e.kwh::DOUBLE END AS kwh_measured,
  CASE WHEN NOT (e.begins_before_data OR e.is_open) THEN m.share * e.kwh_lower::DOUBLE END AS kwh_measured_lower,
  CASE WHEN NOT (e.begins_before_data OR e.is_open) THEN m.share * e.kwh_upper::DOUBLE END AS kwh_measured_upper
FROM matched m
JOIN incidents i USING (incident_id)
LEFT JOIN meter_episodes e ON e.episode_id = m.episode_id
ORDER BY m.incident_id
