-- What the filters choose; every query of the figures goes on from here.
WITH asked AS (
  SELECT $sites::VARCHAR[] AS sites, $kinds::VARCHAR[] AS kinds, $start::DATE AS first_day, $end::DATE AS last_day
),
log AS (
  SELECT max(log_from) AS log_from, max(log_to) AS log_to FROM build_info
),
-- Incidents at the chosen sites and kinds, at any time.
placed_incidents AS (
  SELECT
    i.*, c.kind, c.model,
    coalesce(s.name, i.site_id) AS site,
    i.first_reported_at::DATE AS reported_on,
    -- Pieces are controls only where the text speaks of controls; lamps or poles counted are one place's fault.
    CASE WHEN i.component = 'control' THEN i.units ELSE 1 END AS controls,
    -- Work ordered ahead (a relamping project, a campaign) that reports no fault: no incident, and counted apart.
    i.action = 'planned' AND i.symptom = 'unknown' AND NOT i.control_failed AS is_planned
  FROM incidents i
  LEFT JOIN controls c ON c.control_id = i.control_id
  LEFT JOIN sites s ON s.site_id = i.site_id
  CROSS JOIN asked
  WHERE (asked.sites IS NULL OR list_contains(asked.sites, i.site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, c.kind))
),
-- The same, first reported within the period.
chosen_incidents AS (
  SELECT p.*
  FROM placed_incidents p CROSS JOIN asked
  WHERE (asked.first_day IS NULL OR p.reported_on >= asked.first_day)
    AND (asked.last_day IS NULL OR p.reported_on <= asked.last_day)
),
-- Months of wasted energy; a month that the period touches counts whole.
chosen_months AS (
  SELECT m.*, p.site, p.kind
  FROM burn_months m
  JOIN placed_incidents p ON p.incident_id = m.incident_id
  CROSS JOIN asked
  WHERE (asked.first_day IS NULL OR m.month >= date_trunc('month', asked.first_day))
    AND (asked.last_day IS NULL OR m.month <= asked.last_day)
),
chosen_lives AS (
  SELECT l.*
  FROM lives l CROSS JOIN asked
  WHERE (asked.sites IS NULL OR list_contains(asked.sites, l.site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, l.kind))
),
chosen_options AS (
  SELECT o.*, coalesce(s.name, o.site_id) AS site
  FROM options o
  LEFT JOIN sites s ON s.site_id = o.site_id
  CROSS JOIN asked
  WHERE (asked.sites IS NULL OR list_contains(asked.sites, o.site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, o.kind))
)
