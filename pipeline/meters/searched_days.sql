-- Every solar day between an account's first and last, with its loads where there are readings.
SELECT d.account_id, d.day, d.off_s, d.on_s, m.day_kw, m.night_kw, m.switch_kw
FROM account_days d
JOIN (SELECT account_id, min(day) AS first_day, max(day) AS last_day FROM meter_days GROUP BY account_id) s USING (account_id)
LEFT JOIN meter_days m USING (account_id, day)
WHERE d.day BETWEEN s.first_day AND s.last_day
ORDER BY d.account_id, d.day
