-- One row per reading: its mean load, and why it is kept out where it is. Of equal readings of one interval the first
-- stays; of different ones none does, for which is right is not known.
CREATE TEMP TABLE beside AS
SELECT
  *, TRY_CAST({reading} AS DOUBLE) AS number,
  lag(start_s) OVER instants AS before_s, lead(start_s) OVER instants AS after_s
FROM timed
WINDOW instants AS (PARTITION BY account_id ORDER BY start_s, row_number);

CREATE TEMP TABLE grids AS
SELECT account_id, interval_s, mode(start_s % interval_s) AS grid_s
FROM beside
JOIN (SELECT account_id, mode(start_s - before_s) FILTER (start_s > before_s) AS interval_s FROM beside GROUP BY ALL) USING (account_id)
GROUP BY ALL;

CREATE TEMP TABLE copies AS
SELECT
  row_number, row_number() OVER (same ORDER BY row_number) AS copy,
  min(number) OVER same IS NOT DISTINCT FROM max(number) OVER same AND count(number) OVER same = count(*) OVER same AS alike
FROM beside
WHERE start_s IN (before_s, after_s)
WINDOW same AS (PARTITION BY account_id, start_s);

CREATE TEMP TABLE usual AS
SELECT account_id, quantile_disc(number, 0.999) AS high FROM beside WHERE number >= 0 AND isfinite(number) GROUP BY account_id;

CREATE TEMP TABLE judged AS
SELECT
  row_number, account_id, start_s, g.interval_s, has_offset, local_at, stamp,
  CASE WHEN isfinite(number) THEN number * {kw_factor} END AS kw,
  CASE
    WHEN surplus THEN 'more cells than headings'
    WHEN account_id IS NULL THEN 'no account'
    WHEN unknown_account THEN 'not an account of the registers'
    WHEN local_at IS NULL THEN 'not a time such as 2024-01-31 00:15'
    WHEN skipped THEN 'an hour that the clocks skip'
    WHEN g.interval_s IS NULL THEN 'a single reading, of unknown length'
    WHEN g.interval_s NOT IN ({lengths_s}) THEN 'intervals that are not 5, 10, 15, 20, 30 or 60 minutes'
    WHEN start_s % g.interval_s <> g.grid_s THEN 'between two intervals'
    WHEN reading IS NULL THEN 'no reading'
    WHEN NOT coalesce(isfinite(number), false) THEN 'not a number'
    WHEN number < 0 THEN 'negative'
    WHEN u.high > 0 AND number > {absurd_times} * u.high THEN 'absurdly high'
    WHEN c.copy IS NOT NULL AND NOT c.alike THEN 'doubled, with different readings'
    WHEN c.copy > 1 THEN 'doubled'
  END AS reason
FROM beside
LEFT JOIN grids g USING (account_id)
LEFT JOIN usual u USING (account_id)
LEFT JOIN copies c USING (row_number)
