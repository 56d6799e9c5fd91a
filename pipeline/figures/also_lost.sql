, burnt AS (
  SELECT
    count(*) AS lamp_incidents,
    sum(l.lamp_hours_low) AS lamp_hours_low, sum(l.lamp_hours_central) AS lamp_hours_central,
    sum(l.lamp_hours_high) AS lamp_hours_high, sum(l.lamp_lives_low) AS lamp_lives_low,
    sum(l.lamp_lives_central) AS lamp_lives_central, sum(l.lamp_lives_high) AS lamp_lives_high,
    sum(l.lamp_cost_low) AS lamp_cost_low, sum(l.lamp_cost_central) AS lamp_cost_central,
    sum(l.lamp_cost_high) AS lamp_cost_high,
    count(*) FILTER (l.luminaires_without_life > 0) AS without_life,
    count(*) FILTER (l.luminaires_without_cost > 0) AS without_cost
  FROM lamp_losses l JOIN chosen_incidents i USING (incident_id)
),
dark AS (
  SELECT
    count(*) AS unlit_incidents, count(*) FILTER (u.unlit_hours_central IS NULL) AS without_place,
    sum(u.unlit_hours_low::DECIMAL(18, 6)) AS unlit_hours_low,
    sum(u.unlit_hours_central::DECIMAL(18, 6)) AS unlit_hours_central,
    sum(u.unlit_hours_high::DECIMAL(18, 6)) AS unlit_hours_high,
    sum((u.unlit_hours_central * u.luminaires)::DECIMAL(18, 6)) AS unlit_luminaire_hours_central
  FROM unlit_episodes u JOIN chosen_incidents i USING (incident_id)
)
SELECT * FROM burnt CROSS JOIN dark
