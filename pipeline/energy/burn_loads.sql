-- The load behind a failed control on a day, and what a kilowatt-hour costs there. A control that only drives
-- another device's coil has that device's lamps behind it. A batch's load is shared evenly by its members.
-- $default_tariff prices accounts that name no tariff; an unmetered account pays nothing for day burning.
WITH asked AS (
  SELECT a.incident_id, a.day, a.units, c.control_id, c.position, s.account_id AS site_account,
         coalesce(c.switched_by, c.control_id) AS load_control
  FROM asked_loads a
  JOIN controls c USING (control_id)
  LEFT JOIN sites s ON s.site_id = c.site_id
),
behind AS (
  SELECT c.position, c.control_id, c.quantity, f.*  EXCLUDE (control_id)
  FROM fixtures f JOIN controls c USING (control_id)
)
SELECT
  a.incident_id, a.day,
  sum(b.luminaires * b.input_watts_each / b.quantity) * least(any_value(a.units), any_value(b.quantity)) AS connected_w,
  count(*) FILTER (b.input_watts_each IS NULL) AS groups_without_watts,
  -- watts by price: several accounts behind one control share the bill by their load
  sum(b.luminaires * b.input_watts_each * t.price_per_kwh * coalesce(k.metered, true)::INTEGER)
    / nullif(sum(b.luminaires * b.input_watts_each), 0) AS price_per_kwh
FROM asked a
JOIN controls device ON device.control_id = a.load_control
JOIN behind b
  ON (b.control_id = device.control_id OR (b.position = device.position AND device.quantity = 1 AND b.quantity = 1))
 AND coalesce(b.installed_on, DATE '0001-01-01') <= a.day AND a.day < coalesce(b.removed_on, DATE '9999-01-01')
LEFT JOIN accounts k ON k.account_id = coalesce(b.account_id, a.site_account)
LEFT JOIN tariffs t ON t.tariff = coalesce(k.tariff, $default_tariff)
GROUP BY a.incident_id, a.day
