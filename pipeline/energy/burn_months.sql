-- Parts of incidents added up by calendar month, as decimals. Costs, and what suppliers' factors give, are the sums of
-- burn_costs.
WITH location AS (SELECT applies_to AS grid_region, year, value FROM factors_in_force WHERE method = 'location-based'),
losses AS (
  -- What must be fed in more for each unit used: a rate of loss is a share of what is fed in.
  SELECT applies_to AS grid_region, year, value / (100 - value) AS value FROM factors_in_force WHERE method = 'grid losses'
),
costs AS (
  SELECT c.incident_id, c.month, true AS costed, {costs}
  FROM burn_costs c
  LEFT JOIN sites s USING (site_id)
  LEFT JOIN location f ON f.grid_region = s.grid_region AND f.year = year(c.month)
  GROUP BY c.incident_id, c.month
),
supplied AS (SELECT count(*) > 0 AS given FROM factors_in_force WHERE method = 'market-based')
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
  any_value(d.kwh_draws) AS kwh_draws
FROM parts
JOIN drawn d USING (incident_id, month)
LEFT JOIN costs c USING (incident_id, month)
LEFT JOIN location f ON f.grid_region = parts.grid_region AND f.year = year(month)
LEFT JOIN losses l ON l.grid_region = parts.grid_region AND l.year = year(month)
CROSS JOIN supplied
GROUP BY incident_id, site_id, month
