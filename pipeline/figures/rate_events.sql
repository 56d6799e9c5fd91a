-- Incidents reported while their site's log was kept, and failures that the register alone tells of, each under the group
-- in which its control stood then; under a site also those tied to no control.
, stations AS (
  SELECT DISTINCT ON (control_id, entered_on) control_id, entered_on, {group_name} AS group_name
  FROM lives ORDER BY control_id, entered_on, ended_on DESC
),
events AS (
  SELECT CASE WHEN $by_site THEN i.site_id ELSE t.group_name END AS group_name, i.incident_id, i.units, i.control_failed
  FROM chosen_incidents i
  JOIN observation_windows w
    ON w.site_id = i.site_id AND i.first_reported_at::DATE BETWEEN w.observed_from AND w.observed_to
  ASOF LEFT JOIN stations t ON i.control_id = t.control_id AND i.first_reported_at >= t.entered_on
  WHERE NOT i.is_planned
  UNION ALL
  SELECT {group_name}, NULL, quantity, true
  FROM chosen_lives CROSS JOIN asked
  WHERE failed AND incident_id IS NULL
    AND coalesce(ended_on >= asked.first_day, true) AND coalesce(ended_on <= asked.last_day, true)
)
SELECT group_name, incident_id, units, control_failed FROM events WHERE group_name IS NOT NULL
ORDER BY ALL
