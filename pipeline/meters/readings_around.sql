-- Readings by day within a few days of any step; day as days since 1970-01-01.
WITH wanted AS (
  SELECT DISTINCT account_id, day_number + unnest(range(-$reach, $reach + 1)) AS day_number FROM steps
)
SELECT p.account_id, w.day_number AS day, p.start_s, p.interval_s, p.kw
FROM placed_readings p
JOIN wanted w ON w.account_id = p.account_id AND p.day = DATE '1970-01-01' + w.day_number::INTEGER
WHERE p.by_day
ORDER BY p.account_id, p.start_s
