-- Loads of an account by solar day. A day counts where readings fill at least half of its hours well inside daylight.
SELECT
  account_id, day, any_value(d.off_at) AS off_at, any_value(d.on_at) AS on_at,
  any_value((d.on_s - d.off_s) / 3600.0) AS off_hours,
  count(*) FILTER (by_day) AS readings,
  CASE WHEN sum(interval_s) FILTER (by_day) >= (any_value(d.on_s - d.off_s) - 2 * {margin_s}) / 2
       THEN avg(kw) FILTER (by_day) END AS day_kw,
  avg(kw) FILTER (by_night) AS night_kw,
  list_avg(list_filter([
    avg(kw) FILTER (side = 'dawn, lit') - avg(kw) FILTER (side = 'dawn, off'),
    avg(kw) FILTER (side = 'dusk, lit') - avg(kw) FILTER (side = 'dusk, off')
  ], lambda step: step IS NOT NULL)) AS switch_kw
FROM placed_readings
JOIN account_days d USING (account_id, day)
GROUP BY account_id, day
ORDER BY account_id, day
