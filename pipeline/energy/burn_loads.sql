-- The whole load behind each failed control in each stretch of days: its bills added up, as decimals.
SELECT
  incident_id, begins, ends,
  sum(connected_w::DECIMAL(18, 6))::DOUBLE AS connected_w,
  sum(groups_without_watts)::BIGINT AS groups_without_watts,
  sum(luminaires::DECIMAL(18, 6))::DOUBLE AS luminaires,
  sum(nullif(lamp_lives_per_hour, 'NaN')::DECIMAL(18, 12))::DOUBLE AS lamp_lives_per_hour,
  sum(nullif(lamp_cost_per_hour, 'NaN')::DECIMAL(18, 9))::DOUBLE AS lamp_cost_per_hour,
  sum(luminaires_without_life::DECIMAL(18, 6))::DOUBLE AS luminaires_without_life,
  sum(luminaires_without_cost::DECIMAL(18, 6))::DOUBLE AS luminaires_without_cost
FROM bills
GROUP BY ALL
ORDER BY ALL
