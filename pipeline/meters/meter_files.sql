-- A file's readings counted.
SELECT
  $file_id AS file_id, $name AS name, $unit AS unit,
  count(*) AS rows_read,
  count(*) FILTER (reason IS NULL) AS kept,
  count(*) FILTER (reason IS NOT NULL) AS left_out,
  count(DISTINCT account_id) FILTER (reason IS NULL) AS accounts,
  array_to_string(list_sort(list(DISTINCT interval_s // 60) FILTER (reason IS NULL)), ', ') AS interval_min,
  CASE WHEN bool_and(has_offset) THEN 'offsets' WHEN bool_or(has_offset) THEN 'local and offsets' ELSE 'local' END AS clock,
  min(local_time(start_s, p.time_zone)) FILTER (reason IS NULL) AS first_at,
  max(local_time(start_s + interval_s, p.time_zone)) FILTER (reason IS NULL) AS last_at
FROM meter_readings LEFT JOIN account_zones p USING (account_id)
WHERE file_id = $file_id
