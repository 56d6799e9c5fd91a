-- By how much day burning can have raised a month's demand charge, at most: its load, where it burnt within the hours in
-- which the account's demand is measured, at the price of a kilowatt and month. Whether the month's highest load fell
-- into those hours no log tells. A price that changed within a month counts at its higher.
SELECT
  h.incident_id, h.month::DATE AS month, b.account_id, b.tariff,
  max(b.connected_w) / 1000 AS connected_kw, max(h.price) AS price_per_kw_month,
  {sums}
FROM bills b
JOIN tariff_hours h USING (incident_id, begins, tariff)
WHERE b.metered AND b.connected_w > 0 AND h.charge = 'demand' AND h.price IS NOT NULL
GROUP BY ALL
ORDER BY ALL
