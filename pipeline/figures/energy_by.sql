, site_labels AS (
  -- Sites of one name are told apart by their id.
  SELECT site_id, CASE WHEN count(*) OVER (PARTITION BY coalesce(name, site_id)) > 1 AND name IS NOT NULL
                       THEN name || ' (' || site_id || ')' ELSE coalesce(name, site_id) END AS label
  FROM sites
),
spans AS (
  SELECT
    CASE $by
      WHEN 'month' THEN strftime(month, '%Y-%m')
      WHEN 'calendar year' THEN strftime(month, '%Y')
      WHEN 'fiscal year' THEN 'FY ' || (year(month) + CASE WHEN $first_month > 1 AND month(month) >= $first_month THEN 1 ELSE 0 END)
      WHEN 'site' THEN coalesce(s.label, m.site_id, 'site unknown')
      WHEN 'kind' THEN coalesce(kind, 'kind unknown')
      ELSE 'all'
    END AS part,
    CASE WHEN $by = 'site' THEN m.site_id END AS part_key,
    m.*
  FROM chosen_months m
  LEFT JOIN site_labels s ON s.site_id = m.site_id
),
-- Each draw added up over the part. Money and emissions take what a kilowatt-hour of the month comes to.
drawn AS (
  SELECT
    part, part_key, unnest(kwh_draws) AS kwh, generate_subscripts(kwh_draws, 1) AS draw,
    {each}
  FROM spans
),
draw_sums AS (
  SELECT
    part, part_key, draw, sum(kwh::DECIMAL(18, 6))::DOUBLE AS kwh,
    {sums}
  FROM drawn
  GROUP BY part, part_key, draw
),
ranges AS (
  SELECT
    part, part_key,
    {quantiles}
  FROM draw_sums
  GROUP BY part, part_key
)
SELECT
  s.part,
  count(DISTINCT incident_id) AS incidents,
  list(DISTINCT incident_id ORDER BY incident_id) AS incident_ids,
  sum(excess_hours_low) AS excess_hours_low, sum(excess_hours_central) AS excess_hours_central,
  sum(excess_hours_high) AS excess_hours_high,
  sum(kwh_low) AS kwh_low, sum(kwh_central) AS kwh_central, sum(kwh_high) AS kwh_high,
  sum(cost_low) AS cost_low, sum(cost_central) AS cost_central, sum(cost_high) AS cost_high,
  sum(co2e_kg_low) AS co2e_kg_low, sum(co2e_kg_central) AS co2e_kg_central, sum(co2e_kg_high) AS co2e_kg_high,
  sum(co2e_market_kg_low) AS co2e_market_kg_low, sum(co2e_market_kg_central) AS co2e_market_kg_central,
  sum(co2e_market_kg_high) AS co2e_market_kg_high,
  sum(co2e_losses_kg_low) AS co2e_losses_kg_low, sum(co2e_losses_kg_central) AS co2e_losses_kg_central,
  sum(co2e_losses_kg_high) AS co2e_losses_kg_high,
  sum(supplied_kwh_central) AS supplied_kwh_central,
  {chosen}
FROM spans s
LEFT JOIN ranges r ON r.part = s.part AND r.part_key IS NOT DISTINCT FROM s.part_key
GROUP BY s.part, s.part_key
ORDER BY CASE WHEN $by IN ('site', 'kind') THEN sum(kwh_central) END DESC, s.part, s.part_key
