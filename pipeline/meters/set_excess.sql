-- What an account's days would have drawn if nothing burnt, and what belongs to day burning.
UPDATE meter_days
SET expected_kw = CASE WHEN isfinite(e.expected_kw) THEN e.expected_kw END,
    excess_kw = CASE WHEN isfinite(e.excess_kw) THEN e.excess_kw END
FROM excess e
WHERE meter_days.account_id = $account_id AND meter_days.day = DATE '1970-01-01' + e.day_number::INTEGER
