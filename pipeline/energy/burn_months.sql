-- Parts of incidents added up by calendar month, as decimals. Costs are the sums of burn_costs.
WITH costs AS (
  SELECT
    incident_id, month, true AS costed,
    CASE WHEN bool_and(cost_low IS NOT NULL OR kwh_low = 0) THEN coalesce(sum(cost_low), 0) END AS cost_low,
    CASE WHEN bool_and(cost_central IS NOT NULL OR kwh_central = 0) THEN coalesce(sum(cost_central), 0) END AS cost_central,
    CASE WHEN bool_and(cost_high IS NOT NULL) THEN sum(cost_high) END AS cost_high
  FROM burn_costs
  GROUP BY incident_id, month
)
SELECT
  incident_id, site_id, month,
  -- One load all month is that load; a load that changed is its mean over the hours lit, so that W · h makes kWh.
  CASE WHEN min(connected_w) = max(connected_w) THEN max(connected_w)
       ELSE round(coalesce(
         sum((connected_w * excess_hours_central)::DECIMAL(18, 6))::DOUBLE
           / nullif(sum(excess_hours_central::DECIMAL(18, 6)), 0)::DOUBLE,
         sum((connected_w * excess_hours_high)::DECIMAL(18, 6))::DOUBLE
           / nullif(sum(excess_hours_high::DECIMAL(18, 6)), 0)::DOUBLE,
         max(connected_w)), 3) END AS connected_w,
  {sums},
  -- A cost that is unknown for a part of the energy is unknown for the month: half a price is worse than none.
  -- A month without a load on record costs nothing that anybody knows of.
  CASE WHEN bool_or(c.costed) THEN any_value(c.cost_low) ELSE 0 END AS cost_low,
  CASE WHEN bool_or(c.costed) THEN any_value(c.cost_central) ELSE 0 END AS cost_central,
  CASE WHEN bool_or(c.costed) THEN any_value(c.cost_high) ELSE 0 END AS cost_high,
  any_value(d.kwh_draws) AS kwh_draws
FROM parts
JOIN drawn d USING (incident_id, month)
LEFT JOIN costs c USING (incident_id, month)
GROUP BY incident_id, site_id, month
