-- Incidents that kept lamps lit out of their hours: by day burning all the while, by a wrong time for the hours of its
-- shift, where the text states them. late_by_h: hours by which the control runs late (negative: early). {chosen}: which
-- incidents. With the place whose sun decides and their three possible spans.
-- An incident still open at the log's end is counted to the end of that day. One that has been open for longer than
-- $stale_after_days may have been mended without a word: it is counted from its last evidence (low) to the log's end
-- (high), and to the day it became stale in between.
SELECT
  i.incident_id, i.site_id, i.control_id, c.kind, i.units, i.share_of_lamps, i.is_open,
  CASE WHEN i.symptom = 'wrong time' THEN
    least(i.burning_shift_h, 24) * CASE WHEN i.burning_edge = 'on' THEN -1 ELSE 1 END
    ELSE 0 END AS late_by_h,
  s.latitude, s.longitude, s.time_zone, s.grid_region,
  i.onset_low, i.onset_central, i.onset_high,
  coalesce(i.restored_low, CASE WHEN i.stale THEN i.last_evidence_at END, log.closes) AS restored_low,
  coalesce(i.restored_central, CASE WHEN i.stale THEN
    greatest(i.last_evidence_at, least(log.closes, i.first_reported_at + to_days($stale_after_days::INTEGER)))
    END, log.closes) AS restored_central,
  coalesce(i.restored_high, log.closes) AS restored_high,
  log.closes
FROM (SELECT *, is_open AND coalesce(list_contains(flags, 'stale order'), false) AS stale FROM incidents) i
LEFT JOIN sites s USING (site_id)
LEFT JOIN controls c ON c.control_id = i.control_id
CROSS JOIN (SELECT log_to::TIMESTAMP + INTERVAL 1 DAY AS closes FROM build_info) log
WHERE {chosen}
ORDER BY i.incident_id
