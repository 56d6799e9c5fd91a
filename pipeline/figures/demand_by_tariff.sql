SELECT
  d.tariff, count(*) AS months, count(DISTINCT d.incident_id) AS incidents,
  sum(d.demand_hours_central) AS demand_hours_central,
  sum(d.demand_cost_low) AS demand_cost_low, sum(d.demand_cost_central) AS demand_cost_central,
  sum(d.demand_cost_high) AS demand_cost_high
FROM burn_demand d
JOIN chosen_months m ON m.incident_id = d.incident_id AND m.month = d.month
GROUP BY d.tariff
ORDER BY sum(d.demand_cost_central) DESC, d.tariff
