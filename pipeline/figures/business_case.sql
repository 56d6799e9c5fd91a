, paying AS (
  SELECT DISTINCT site_id, kind, model FROM chosen_options WHERE net_savings > 0
),
scoped AS (
  SELECT 'everywhere' AS scope, o.* FROM chosen_options o
  UNION ALL
  SELECT 'where it pays' AS scope, o.*
  FROM chosen_options o SEMI JOIN paying p
    ON p.site_id = o.site_id AND p.kind = o.kind AND p.model IS NOT DISTINCT FROM o.model
)
SELECT
  scope, option,
  count(*) AS groups, count(DISTINCT site_id) AS sites, sum(controls)::BIGINT AS controls,
  sum(connected_w) AS connected_w,
  sum(investment) AS investment_cost, sum(lcc) AS lcc_cost,
  sum(expected_failures) AS expected_failures, sum(expected_failures_lower) AS expected_failures_lower,
  sum(expected_failures_upper) AS expected_failures_upper,
  sum(kwh) AS kwh, sum(co2e_kg) AS co2e_kg,
  sum(net_savings) AS net_savings_cost, sum(net_savings_lower) AS net_savings_lower_cost,
  sum(net_savings_upper) AS net_savings_upper_cost,
  max(years) AS years, max(discount_rate) AS discount_rate
FROM scoped
GROUP BY scope, option
ORDER BY scope, option
