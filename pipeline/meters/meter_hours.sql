-- Loads of an account by hour.
SELECT
  account_id, hour_s, local_time(hour_s, z.time_zone) AS hour_at, kw
FROM (
  SELECT account_id, start_s // 3600 * 3600 AS hour_s, avg(kw) AS kw
  FROM meter_readings WHERE reason IS NULL
  GROUP BY account_id, start_s // 3600 * 3600
)
JOIN account_zones z USING (account_id)
ORDER BY account_id, hour_s
