-- Readings kept out and intervals without any, in runs: rows that follow one another in the file, and times that do.
WITH kept_out AS (
  SELECT
    file_id, account_id, reason, row_number, stamp,
    row_number - row_number() OVER (PARTITION BY file_id, account_id, reason ORDER BY row_number) AS run
  FROM meter_readings
  WHERE reason IS NOT NULL
),
-- A reading kept out for its value is no missing one; the same interval in two files is one.
instants AS (
  SELECT account_id, start_s, max(interval_s) AS interval_s, lead(start_s) OVER (PARTITION BY account_id ORDER BY start_s) AS next_s
  FROM meter_readings
  WHERE start_s IS NOT NULL AND coalesce(reason NOT IN ('between two intervals', 'not an account of the registers'), true)
  GROUP BY account_id, start_s
)
SELECT
  file_id, account_id, reason, min(row_number) AS first_row, max(row_number) AS last_row, count(*) AS intervals,
  arg_min(stamp, row_number) AS first_stamp, arg_max(stamp, row_number) AS last_stamp
FROM kept_out
GROUP BY file_id, account_id, reason, run
UNION ALL
SELECT
  NULL, account_id, 'missing', NULL, NULL, (next_s - start_s) // interval_s - 1,
  strftime(local_time(start_s + interval_s, p.time_zone), '%Y-%m-%d %H:%M'),
  strftime(local_time(next_s - interval_s, p.time_zone), '%Y-%m-%d %H:%M')
FROM instants JOIN account_zones p USING (account_id)
WHERE next_s - start_s >= 2 * interval_s
ORDER BY ALL
