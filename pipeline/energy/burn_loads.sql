-- The load behind a failed control on a day, and what a kilowatt-hour costs there. A control that only drives
-- another device's coil has that device's lamps behind it. A batch's load is shared evenly by its members.
-- Sums are of decimals: in any order of rows they give the same to the digit.
WITH asked AS (
  SELECT a.incident_id, a.day::DATE AS day, a.units, coalesce(c.switched_by, c.control_id) AS device_id
  FROM asked_loads a
  JOIN controls c USING (control_id)
),
behind AS (
  -- An undated fixture was there as long as its own control.
  SELECT c.position, c.quantity, c.kind,
         f.* REPLACE (coalesce(f.installed_on, CASE WHEN p.rows > 1 THEN c.installed_on END) AS installed_on,
                      coalesce(f.removed_on, CASE WHEN p.rows > 1 THEN c.removed_on END) AS removed_on)
  FROM fixtures f
  JOIN controls c USING (control_id)
  JOIN (SELECT position, count(*) AS rows FROM controls GROUP BY position) p ON p.position = c.position
)
SELECT
  a.incident_id, a.day,
  sum((b.luminaires * b.input_watts_each / b.quantity)::DECIMAL(18, 6))::DOUBLE
    * least(any_value(a.units), any_value(b.quantity)) AS connected_w,
  -- several accounts behind one control share the bill by their load
  -- and one unpriced load makes the price of the whole unknown: half a price is worse than none
  CASE WHEN bool_and(b.price_per_kwh IS NOT NULL) THEN
    sum((b.luminaires * b.input_watts_each * b.price_per_kwh)::DECIMAL(18, 6))::DOUBLE
    / nullif(sum((b.luminaires * b.input_watts_each)::DECIMAL(18, 6)), 0)::DOUBLE END AS price_per_kwh,
  count(*) FILTER (b.input_watts_each IS NULL) AS groups_without_watts
FROM asked a
JOIN controls device ON device.control_id = a.device_id
JOIN behind b
  -- successive controls of a place stand in rows of their own: the day says whose fixtures were there
  ON (b.control_id = device.control_id
      OR (b.position = device.position AND b.kind IS NOT DISTINCT FROM device.kind AND device.quantity = 1 AND b.quantity = 1))
 AND coalesce(b.installed_on <= a.day, true) AND coalesce(a.day < b.removed_on, true)
GROUP BY a.incident_id, a.day
