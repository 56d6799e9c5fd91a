-- Every reading that is used, with the solar day of its account that it falls in, and where in that day it lies: well
-- by day or by night (a margin around switching times is left out), or in the hour beside dusk or dawn.
CREATE OR REPLACE TEMP VIEW placed_readings AS
SELECT
  r.account_id, d.day, r.start_s, r.interval_s, r.kw,
  r.start_s >= off_s + {margin_s} AND r.start_s + interval_s <= on_s - {margin_s} AS by_day,
  r.start_s + interval_s <= off_s - {margin_s} OR r.start_s >= on_s + {margin_s} AS by_night,
  CASE
    WHEN r.start_s + interval_s <= off_s - {margin_s} AND r.start_s >= off_s - {margin_s} - 3600 THEN 'dawn, lit'
    WHEN r.start_s >= off_s + {margin_s} AND r.start_s + interval_s <= off_s + {margin_s} + 3600 THEN 'dawn, off'
    WHEN r.start_s + interval_s <= on_s - {margin_s} AND r.start_s >= on_s - {margin_s} - 3600 THEN 'dusk, off'
    WHEN r.start_s >= on_s + {margin_s} AND r.start_s + interval_s <= on_s + {margin_s} + 3600 THEN 'dusk, lit'
  END AS side
FROM (SELECT account_id, start_s, interval_s, kw FROM meter_readings WHERE reason IS NULL) r
ASOF JOIN account_days d ON d.account_id = r.account_id AND r.start_s >= d.begins_s
WHERE r.start_s < d.ends_s
