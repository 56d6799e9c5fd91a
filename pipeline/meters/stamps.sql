-- Stamps as times: the local wall clock as written, with its offset from UTC [s] where the stamp gives it. No meter has
-- readings of before 1970, or of after 2100.
CREATE TEMP TABLE stamped AS
WITH parted AS (
  -- a stamp of up to 16 characters has no room for an offset: 2024-01-31 00:15
  SELECT *, CASE WHEN length(stamp) > 16 THEN regexp_extract(stamp, '\s*([Zz]|[+-][0-9]{2}(:?[0-9]{2})?)$', 1) ELSE '' END AS tail
  FROM lines
  WHERE NOT blank
)
SELECT * REPLACE (CASE WHEN year(local_at) BETWEEN 1970 AND 2100 THEN local_at END AS local_at)
FROM (
SELECT
  row_number, account_id, stamp, reading, surplus,
  try_strptime(
    replace(trim(stamp[:length(stamp) - length(tail)]), 'T', ' '),
    ['%Y-%m-%d %H:%M', '%Y-%m-%d %H:%M:%S', '%Y-%m-%d %H:%M:%S.%g']) AS local_at,
  CASE
    WHEN tail = '' THEN NULL
    WHEN tail IN ('Z', 'z') THEN 0
    ELSE (CASE WHEN tail[1] = '-' THEN -1 ELSE 1 END) * (
      tail[2:3]::INTEGER * 3600 + coalesce(nullif(replace(tail[4:], ':', ''), '')::INTEGER, 0) * 60)
  END AS offset_s
FROM parted
)
