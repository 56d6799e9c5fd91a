-- Incidents that kept lamps lit by day, with the place whose sun decides and their three possible spans.
-- An incident still open at the log's end is counted to the end of that day.
SELECT
  i.incident_id, i.site_id, i.control_id, i.units, i.is_open,
  s.latitude, s.longitude, s.time_zone, s.grid_region,
  i.onset_low, i.onset_central, i.onset_high,
  coalesce(i.restored_low, log.closes) AS restored_low,
  coalesce(i.restored_central, log.closes) AS restored_central,
  coalesce(i.restored_high, log.closes) AS restored_high,
  log.closes
FROM incidents i
LEFT JOIN sites s USING (site_id)
CROSS JOIN (SELECT log_to::TIMESTAMP + INTERVAL 1 DAY AS closes FROM build_info) log
WHERE i.symptom = 'day burning'
ORDER BY i.incident_id
