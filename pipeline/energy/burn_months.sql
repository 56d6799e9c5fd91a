-- Parts of incidents added up by calendar month, as decimals.
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
GROUP BY incident_id, site_id, month
