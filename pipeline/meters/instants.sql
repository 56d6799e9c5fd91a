-- Instants of readings [s since 1970-01-01 UTC]. Where an hour of the wall clock comes twice, the earlier of two equal
-- stamps of an account is its first run and the later its second; a single one is taken for the first.
CREATE TEMP TABLE timed AS
WITH placed AS (
  SELECT s.*, z.time_zone, c.offset_s AS clock_s, c.again_s, coalesce(c.skipped AND s.offset_s IS NULL, false) AS skipped
  FROM stamped s
  LEFT JOIN account_zones z USING (account_id)
  LEFT JOIN clock_stretches c
    ON c.time_zone = z.time_zone AND s.local_at >= c.local_from AND s.local_at < c.local_to
),
-- A file may run backwards in time.
direction AS (
  SELECT account_id, arg_max(local_at, row_number) < arg_min(local_at, row_number) AS backwards FROM stamped GROUP BY account_id
),
twice AS (
  SELECT row_number, row_number() OVER (
    PARTITION BY account_id, local_at ORDER BY CASE WHEN backwards THEN -row_number ELSE row_number END) AS run
  FROM placed JOIN direction USING (account_id)
  WHERE again_s IS NOT NULL AND offset_s IS NULL
)
SELECT
  p.row_number, p.account_id, p.stamp, p.reading, p.surplus, p.local_at, p.skipped, p.offset_s IS NOT NULL AS has_offset,
  p.time_zone IS NULL AS unknown_account,
  CASE WHEN NOT p.skipped THEN
    epoch(p.local_at)::BIGINT - coalesce(p.offset_s, CASE WHEN t.run = 2 THEN p.again_s ELSE p.clock_s END)::BIGINT END AS start_s
FROM placed p
LEFT JOIN twice t USING (row_number)
