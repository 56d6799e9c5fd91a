, savings AS (
  SELECT site_id, kind, model, max(net_savings) AS net_savings FROM chosen_options GROUP BY ALL
),
-- Totals of two options compare only over the same groups, so those without a choice stand apart.
scoped AS (
  SELECT unnest(CASE
      WHEN s.net_savings > 0 THEN [$with_choice, $where_it_pays]
      WHEN s.net_savings IS NOT NULL THEN [$with_choice]
      ELSE [$without_choice]
    END) AS scope, o.*
  FROM chosen_options o
  JOIN savings s ON s.site_id = o.site_id AND s.kind = o.kind AND s.model IS NOT DISTINCT FROM o.model
)
SELECT
  scope, option,
  count(*) AS groups, count(DISTINCT site_id) AS sites, sum(controls)::BIGINT AS controls,
  sum(connected_w) AS connected_w, sum(controls_without_energy)::BIGINT AS controls_without_energy,
  sum(investment) AS investment_cost,
  -- A sum of costs or limits in which one is not known is not known: the sum of the others would pass for it.
  CASE WHEN bool_and(lcc IS NOT NULL) THEN sum(lcc) END AS lcc_cost,
  sum(expected_failures) AS expected_failures,
  CASE WHEN bool_and(expected_failures_lower IS NOT NULL) THEN sum(expected_failures_lower) END
    AS expected_failures_lower,
  CASE WHEN bool_and(expected_failures_upper IS NOT NULL) THEN sum(expected_failures_upper) END
    AS expected_failures_upper,
  sum(kwh) AS kwh, sum(co2e_kg) AS co2e_kg,
  sum(net_savings) AS net_savings_cost,
  CASE WHEN bool_and(net_savings_lower IS NOT NULL) THEN sum(net_savings_lower) END AS net_savings_lower_cost,
  CASE WHEN bool_and(net_savings_upper IS NOT NULL) THEN sum(net_savings_upper) END AS net_savings_upper_cost,
  max(years) AS years, max(discount_rate) AS discount_rate
FROM scoped
GROUP BY scope, option
ORDER BY scope <> $where_it_pays, scope <> $with_choice, option
