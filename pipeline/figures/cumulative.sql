, options_of_group AS (
  SELECT option_id, option, years FROM chosen_options
  WHERE site_id = $site_id AND kind = $kind AND model = $model
),
years AS (
  SELECT option_id, option, unnest(generate_series(0, years)) AS year FROM options_of_group
),
paid AS (
  SELECT y.option, y.year, coalesce(sum(f.amount), 0) AS cost
  FROM years y LEFT JOIN cash_flows f ON f.option_id = y.option_id AND f.year = y.year
  GROUP BY ALL
)
SELECT
  p.option, p.year, p.cost,
  base.cost - p.cost AS net_flow_cost,
  sum(base.cost - p.cost) OVER (PARTITION BY p.option ORDER BY p.year) AS cumulative_net_flow_cost
FROM paid p JOIN paid base ON base.year = p.year AND base.option = $base
WHERE p.option <> $base
ORDER BY p.option, p.year
