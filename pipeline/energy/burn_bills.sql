-- The load behind each failed control from day to day, by the account that pays for it: one row per incident, stretch of
-- days in which nothing changed behind it, and bill. The stretches of an incident leave no gap from first_day to last_day
-- (not included); one with nothing on record has a row without watts. As many members of a batch burn as failed; of a
-- control's lamps the share that the text states burns, else all. Sums are of decimals: in any order of rows they give
-- the same to the digit.
WITH asked AS (
  SELECT incident_id, control_id, units, coalesce(share_of_lamps, 1) AS share, first_day::DATE AS first_day,
         last_day::DATE AS last_day
  FROM asked_loads
),
behind AS (
  SELECT a.incident_id, a.units, a.share, a.first_day, a.last_day, l.* EXCLUDE (control_id)
  FROM asked a
  JOIN control_loads l USING (control_id)
),
edges AS (
  SELECT incident_id, unnest([first_day, last_day]) AS edge FROM asked
  UNION
  SELECT incident_id, begins FROM behind WHERE begins > first_day AND begins < last_day
  UNION
  SELECT incident_id, ends FROM behind WHERE ends > first_day AND ends < last_day
),
steps AS (
  SELECT incident_id, edge AS begins, lead(edge) OVER (PARTITION BY incident_id ORDER BY edge) AS ends
  FROM edges
)
SELECT
  s.incident_id, s.begins, s.ends, b.account_id, coalesce(b.metered, true) AS metered, b.tariff,
  coalesce(sum(b.connected_w * b.share * least(b.units, b.shared_by))::DECIMAL(18, 6), 0)::DOUBLE AS connected_w,
  count(*) FILTER (b.fixture_id IS NOT NULL AND b.connected_w IS NULL) AS groups_without_watts,
  coalesce(sum(b.luminaires * b.share * least(b.units, b.shared_by))::DECIMAL(18, 6), 0)::DOUBLE AS luminaires,
  -- what an hour of burning takes from the rated life of the lamps, and that at the cost of replacing them; unknown is
  -- not 0
  sum(b.luminaires * b.share * least(b.units, b.shared_by) / b.rated_life_h)::DECIMAL(18, 12)::DOUBLE AS lamp_lives_per_hour,
  sum(b.luminaires * b.share * least(b.units, b.shared_by) * b.lamp_cost / b.rated_life_h)::DECIMAL(18, 9)::DOUBLE
    AS lamp_cost_per_hour,
  coalesce(sum(b.luminaires * b.share * least(b.units, b.shared_by))
    FILTER (b.rated_life_h IS NULL)::DECIMAL(18, 6), 0)::DOUBLE AS luminaires_without_life,
  coalesce(sum(b.luminaires * b.share * least(b.units, b.shared_by))
    FILTER (b.lamp_cost IS NULL OR b.rated_life_h IS NULL)::DECIMAL(18, 6), 0)::DOUBLE AS luminaires_without_cost
FROM steps s
LEFT JOIN behind b ON b.incident_id = s.incident_id AND b.begins <= s.begins AND b.ends >= s.ends
WHERE s.ends IS NOT NULL
GROUP BY ALL
ORDER BY ALL
