-- Readings that stand in a second file too: equal ones count once, different ones not at all. Looked for only where the
-- spans of two files overlap.
CREATE OR REPLACE TEMP TABLE repeated AS
WITH spans AS (
  SELECT file_id, account_id, min(start_s) AS first_s, max(start_s) AS last_s
  FROM judged_readings WHERE reason IS NULL GROUP BY ALL
),
shared_spans AS (
  SELECT one.account_id, min(greatest(one.first_s, other.first_s)) AS first_s, max(least(one.last_s, other.last_s)) AS last_s
  FROM spans one JOIN spans other ON one.account_id = other.account_id AND one.file_id < other.file_id
    AND one.first_s <= other.last_s AND other.first_s <= one.last_s
  GROUP BY one.account_id
),
found AS (
  SELECT
    r.file_id, r.row_number, r.account_id, r.start_s,
    row_number() OVER (same ORDER BY r.file_id, r.row_number) AS copy, count(*) OVER same AS copies,
    max(r.kw) OVER same - min(r.kw) OVER same <= 1e-9 AS alike
  FROM judged_readings r JOIN shared_spans o ON r.account_id = o.account_id AND r.start_s BETWEEN o.first_s AND o.last_s
  WHERE r.reason IS NULL
  WINDOW same AS (PARTITION BY r.account_id, r.start_s)
)
SELECT
  file_id, row_number,
  CASE WHEN alike THEN 'doubled in another file' ELSE 'doubled in another file, with different readings' END AS reason,
  strftime(local_time(start_s, p.time_zone), '%Y-%m-%d %H:%M') AS stamp
FROM found JOIN account_zones p USING (account_id)
WHERE copies > 1 AND (copy > 1 OR NOT alike)
