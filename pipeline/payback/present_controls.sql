-- Controls in place at the log's end by site, kind, model, load and age, with the load and price behind each.
-- A control that has failed and waits for repair is not among them: both options must repair it first.
-- Sums are of decimals: in any order of rows they give the same to the digit.
WITH log AS (SELECT log_to FROM build_info),
service AS (
  SELECT
    l.site_id, l.kind, coalesce(l.model, 'model unknown') AS model, l.switching, l.lamp, l.control_id, l.quantity,
    CASE WHEN l.started_on IS NOT NULL AND coalesce(l.excluded_reason NOT LIKE 'batch%', true)
         THEN date_diff('day', l.started_on, log.log_to) END AS age_days
  FROM lives l, log
  WHERE l.end_reason = 'in service' AND l.kind IS NOT NULL
),
own AS (
  SELECT
    l.control_id, sum(l.connected_w)::DOUBLE AS watts_per_control,
    -- one unpriced load makes the price of the whole unknown: half a price is worse than none
    CASE WHEN bool_and(NOT l.metered OR w.price_per_kwh IS NOT NULL) THEN
      sum((l.connected_w * CASE WHEN l.metered THEN w.price_per_kwh ELSE 0 END)::DECIMAL(18, 6))::DOUBLE
        / nullif(sum(l.connected_w), 0)::DOUBLE
      END AS price_per_kwh
  FROM control_loads l
  JOIN controls c USING (control_id)
  LEFT JOIN waste_prices w ON w.site_id = c.site_id AND w.kind = c.kind AND w.tariff = l.tariff
  CROSS JOIN log
  WHERE l.begins <= log.log_to AND log.log_to < l.ends
  GROUP BY l.control_id
)
SELECT
  s.site_id, s.kind, s.model, s.switching, s.lamp, s.age_days, sum(s.quantity)::BIGINT AS controls,
  coalesce(sum((s.quantity * o.watts_per_control)::DECIMAL(18, 6)), 0)::DOUBLE AS connected_w,
  coalesce(sum(s.quantity) FILTER (o.watts_per_control IS NULL OR o.price_per_kwh IS NULL), 0)::BIGINT AS without_energy,
  sum((s.quantity * o.watts_per_control * o.price_per_kwh)::DECIMAL(18, 6))::DOUBLE
    / nullif(sum((s.quantity * o.watts_per_control)::DECIMAL(18, 6)), 0)::DOUBLE AS price_per_kwh
FROM service s
LEFT JOIN own o USING (control_id)
GROUP BY ALL
ORDER BY ALL
