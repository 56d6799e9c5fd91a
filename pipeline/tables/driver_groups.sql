-- The one definition of what drivers a device switches: every fixture group with drivers whose current it carries itself.
-- Only LED is taken to have drivers where none are counted and no peak is given: one for each luminaire.
SELECT
  l.control_id, l.fixture_id, l.begins, l.ends, l.lamp,
  coalesce(l.drivers, f.luminaires / l.shared_by)::DOUBLE AS drivers,
  l.drivers IS NULL AS drivers_supposed,
  f.inrush_peak_a_each AS peak_a_each,
  (l.connected_w / nullif(coalesce(l.drivers, f.luminaires / l.shared_by), 0))::DOUBLE AS watts_each,
  c.voltage_v, c.rated_inrush_a
FROM control_loads l
JOIN fixtures f ON f.fixture_id = l.fixture_id
JOIN controls c ON c.control_id = l.control_id
WHERE NOT l.through_coil AND (l.drivers > 0 OR f.inrush_peak_a_each IS NOT NULL OR upper(l.lamp) = 'LED')
