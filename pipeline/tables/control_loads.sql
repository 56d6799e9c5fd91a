-- The one definition of the load behind a control. Behind it are the fixtures registered at its own place (successive
-- controls of a place stand in rows of their own, and its lamps stay) and, where it only drives another device's coil,
-- those of every device down the chain of switched_by. A batch shares its fixtures evenly among its members.
WITH RECURSIVE carriers AS (
  SELECT control_id, control_id AS device_id FROM controls
  UNION  -- not UNION ALL: a chain that comes back to where it began ends here too
  SELECT k.control_id, c.switched_by
  FROM carriers k
  JOIN controls c ON c.control_id = k.device_id
  WHERE c.switched_by IS NOT NULL
),
places AS (
  SELECT *, count(*) OVER (PARTITION BY position, kind) > 1 AS followed FROM controls
),
-- An undated fixture was there all the time, or as long as its own control where others of the kind came before or after.
groups AS (
  SELECT
    f.*, p.position, p.kind, p.quantity,
    coalesce(f.installed_on, CASE WHEN p.followed AND coalesce(p.installed_on < f.removed_on, true)
                                  THEN p.installed_on END, DATE '1900-01-01') AS begins,
    coalesce(f.removed_on, CASE WHEN p.followed AND coalesce(f.installed_on < p.removed_on, true)
                                THEN p.removed_on END, DATE '9999-01-01') AS ends
  FROM fixtures f
  JOIN places p ON p.control_id = f.control_id
),
-- A group is behind its own row, and behind every row of its place and kind unless one of the two is a batch.
behind_device AS (
  SELECT control_id AS device_id, fixture_id FROM groups
  UNION
  SELECT d.control_id, g.fixture_id
  FROM controls d
  JOIN groups g ON g.position = d.position AND coalesce(g.kind, '') = coalesce(d.kind, '')
  WHERE g.quantity = 1 AND d.quantity = 1
),
behind AS (
  SELECT k.control_id, g.fixture_id, bool_and(k.device_id <> k.control_id) AS through_coil
  FROM carriers k
  JOIN behind_device g ON g.device_id = k.device_id
  GROUP BY k.control_id, g.fixture_id
)
SELECT
  b.control_id, g.fixture_id, b.through_coil, g.begins, g.ends, g.lamp, g.quantity AS shared_by,
  (g.luminaires * g.input_watts_each / g.quantity)::DECIMAL(18, 6) AS connected_w,
  g.bill_account_id AS account_id, coalesce(g.metered, true) AS metered, g.tariff,
  (g.luminaires / g.quantity)::DECIMAL(18, 6) AS luminaires, nullif(g.rated_life_h, 0) AS rated_life_h,
  g.replacement_cost::DOUBLE AS lamp_cost,
  g.drivers / g.quantity AS drivers,
  (g.drivers * g.inrush_peak_a_each / g.quantity)::DECIMAL(18, 6) AS inrush_peak_a
FROM behind b
JOIN groups g ON g.fixture_id = b.fixture_id
