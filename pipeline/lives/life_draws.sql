-- What each draw puts in place of what the lives table says: the stretches it takes away (quantity below 0), and
-- those that it sets instead. Where a draw agrees with the table, it has no row.
WITH taken AS (
  SELECT o.draw, l.* REPLACE (-l.quantity AS quantity)
  FROM open_stays o JOIN stays s USING (stay_number)
  JOIN lives l ON l.life_id = s.control_id || '#' || s.succession
    AND l.entered_on >= s.entered_on AND l.ended_on <= s.ended_on
  UNION ALL BY NAME
  SELECT * FROM ({lives_of_draws})
)
SELECT
  draw, row_number() OVER (PARTITION BY draw ORDER BY control_id, entered_on, ended_on, quantity, life_id, segment)
    AS row_in_draw,
  control_id, site_id, kind, model, switching, lamp, inrush_stress, operations_per_year, started_on, entered_on, ended_on, entry_days, exit_days,
  exit_low_days, exit_central_days, failed, quantity, incident_id
FROM taken
WHERE excluded_reason IS NULL
ORDER BY ALL
