-- What speaks of the time from the start of day burning to its first report: kind, and the times [days since 1970-01-01]
-- between which nobody had called. Only time in which the log was kept counts.
WITH log AS (
  SELECT log_from::TIMESTAMP AS opens, log_to::TIMESTAMP + INTERVAL 1 DAY AS closes FROM build_info
),
reported AS (
  SELECT e.episode_id, min(i.first_reported_at) AS reported_at
  FROM meter_matches m JOIN meter_episodes e USING (episode_id) JOIN incidents i USING (incident_id)
  GROUP BY e.episode_id
),
-- An onset before the readings or the log is no loss: what counts is how long it burnt from then on.
on_meters AS (
  SELECT
    CASE WHEN r.episode_id IS NULL THEN 'unreported' ELSE 'measured' END AS kind,
    greatest(e.onset_central, l.opens) AS since,
    coalesce(r.reported_at, least(e.ended_central, l.closes)) AS until
  FROM meter_episodes e CROSS JOIN log l LEFT JOIN reported r USING (episode_id)
  WHERE e.found <> 'outside the log' AND e.onset_central < l.closes AND coalesce(r.reported_at, e.ended_central) >= l.opens
),
-- Rounds of inspection by day that looked at lights. A round at night clears nothing: lamps are lit then.
rounds AS (
  SELECT DISTINCT f.site_id, c.call_id, c.completed_at AS seen_at
  FROM calls c JOIN findings f USING (call_id)
  WHERE c.work_type = 'inspection' AND c.superseded_by IS NULL AND f.site_id IS NOT NULL AND c.completed_at IS NOT NULL
    AND hour(c.completed_at) BETWEEN 8 AND 16 AND NOT (hour(c.reported_at) >= 17 OR hour(c.reported_at) BETWEEN 1 AND 6)
    AND NOT regexp_matches(lower(coalesce(c.problem_text, '') || ' ' || coalesce(c.action_text, '')), '\b(night|evening|dusk|dark|tonight)')
),
first_calls AS (
  SELECT f.incident_id, arg_min(f.call_id, (c.reported_at, c.call_id)) AS call_id
  FROM findings f JOIN calls c USING (call_id) GROUP BY f.incident_id
),
between_rounds AS (
  SELECT
    CASE WHEN any_value(found.call_id) IS NULL THEN 'round report' ELSE 'round find' END AS kind,
    max(before.seen_at) AS since, any_value(i.first_reported_at) AS until
  FROM incidents i
  JOIN first_calls c USING (incident_id)
  JOIN rounds before ON before.site_id = i.site_id AND before.call_id <> c.call_id
    AND before.seen_at < i.first_reported_at AND before.seen_at >= i.first_reported_at - INTERVAL 400 DAY
  LEFT JOIN rounds found ON found.call_id = c.call_id
  WHERE i.symptom = 'day burning' AND NOT i.no_fault_found
    AND NOT EXISTS (FROM meter_matches m WHERE m.incident_id = i.incident_id AND m.episode_id IS NOT NULL)
  GROUP BY i.incident_id
)
SELECT kind, epoch(since) / 86400 AS first_days, epoch(greatest(since, until)) / 86400 AS last_days
FROM (FROM on_meters UNION ALL FROM between_rounds)
ORDER BY ALL
