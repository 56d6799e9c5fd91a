, paid AS (
  -- Lamps of one control may be paid for by several accounts of a tariff: their hours are the same hours.
  SELECT
    c.incident_id, c.month, c.tariff, c.metered, c.since, c.period, c.price_per_kwh,
    max(c.excess_hours_low) AS excess_hours_low, max(c.excess_hours_central) AS excess_hours_central,
    max(c.excess_hours_high) AS excess_hours_high,
    sum(c.kwh_low) AS kwh_low, sum(c.kwh_central) AS kwh_central, sum(c.kwh_high) AS kwh_high,
    sum(c.cost_low) AS cost_low, sum(c.cost_central) AS cost_central, sum(c.cost_high) AS cost_high
  FROM burn_costs c
  JOIN chosen_months m ON m.incident_id = c.incident_id AND m.month = c.month
  GROUP BY ALL
)
SELECT
  tariff, metered, since, period, price_per_kwh, count(DISTINCT incident_id) AS incidents,
  sum(excess_hours_low) AS excess_hours_low, sum(excess_hours_central) AS excess_hours_central,
  sum(excess_hours_high) AS excess_hours_high,
  sum(kwh_low) AS kwh_low, sum(kwh_central) AS kwh_central, sum(kwh_high) AS kwh_high,
  sum(cost_low) AS cost_low, sum(cost_central) AS cost_central, sum(cost_high) AS cost_high
FROM paid
GROUP BY ALL
ORDER BY metered DESC, tariff NULLS LAST, since NULLS FIRST, sum(cost_central) DESC NULLS LAST, period
