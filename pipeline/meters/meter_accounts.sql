-- Accounts with readings: what was searched, over which days.
SELECT
  s.account_id, s.sites::VARCHAR[] AS sites, r.interval_min,
  coalesce(d.first_day, r.first_day) AS first_day, coalesce(d.last_day, r.last_day) AS last_day, coalesce(d.days, 0) AS days,
  coalesce(g.missing_intervals, 0) AS missing_intervals,
  s.standing_kw::DOUBLE AS standing_kw, s.night_kw::DOUBLE AS night_kw, s.switch_kw::DOUBLE AS switch_kw,
  s.other_load::BOOLEAN AS other_load, s.noise_kw::DOUBLE AS noise_kw, s.least_step_kw::DOUBLE AS least_step_kw,
  s.refused::VARCHAR AS refused
FROM searched s
JOIN (
  SELECT
    account_id, mode(interval_s) / 60.0 AS interval_min,
    local_time(min(start_s), any_value(z.time_zone))::DATE AS first_day,
    local_time(max(start_s), any_value(z.time_zone))::DATE AS last_day
  FROM meter_readings JOIN account_zones z USING (account_id)
  WHERE reason IS NULL GROUP BY account_id
) r USING (account_id)
LEFT JOIN (
  SELECT account_id, min(day) AS first_day, max(day) AS last_day, count(day_kw) AS days FROM meter_days GROUP BY account_id
) d USING (account_id)
LEFT JOIN (
  SELECT account_id, sum(intervals)::BIGINT AS missing_intervals FROM meter_gaps WHERE reason = 'missing' GROUP BY account_id
) g USING (account_id)
ORDER BY s.account_id
