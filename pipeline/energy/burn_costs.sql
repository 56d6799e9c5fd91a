-- What parts of incidents cost, by month, account and period of the account's tariff. A load that is billed by agreed burn
-- hours costs nothing more; one without a tariff, or without a price in force, costs nobody knows what. As decimals.
WITH lit AS (
  SELECT
    h.incident_id, h.month, b.account_id, b.metered, b.tariff, h.since::DATE AS since, h.period, h.price AS price_per_kwh,
    b.connected_w, h.excess_hours_low, h.excess_hours_central, h.excess_hours_high
  FROM bills b
  JOIN tariff_hours h USING (incident_id, begins, tariff)
  WHERE b.metered AND h.charge = 'energy'
  UNION ALL BY NAME
  SELECT
    p.incident_id, p.month, b.account_id, b.metered, b.tariff, CASE WHEN b.metered THEN 'no tariff' ELSE 'unmetered' END AS period,
    CASE WHEN NOT b.metered THEN 0 END AS price_per_kwh,
    b.connected_w, p.excess_hours_low, p.excess_hours_central, p.excess_hours_high
  FROM bills b
  JOIN parts p USING (incident_id, begins)
  WHERE NOT b.metered OR b.tariff IS NULL
)
SELECT
  incident_id, month::DATE AS month, account_id, metered, tariff, since, period, price_per_kwh,
  f.value AS supplier_kg_co2e_per_kwh,
  {sums}
FROM lit
LEFT JOIN factors_in_force f ON f.method = 'market-based' AND f.applies_to = account_id AND f.year = year(month)
WHERE connected_w > 0 AND excess_hours_high > 0
GROUP BY ALL
ORDER BY ALL
