, each_call AS (
  SELECT
    date_trunc('month', c.reported_at)::DATE AS month,
    CASE WHEN $by_kind THEN k.kind END AS kind,
    c.call_id,
    -- a call is planned work where all that it holds is
    bool_and(coalesce(p.is_planned, false)) AS is_planned
  FROM calls c
  LEFT JOIN findings f ON f.call_id = c.call_id
  LEFT JOIN controls k ON k.control_id = f.control_id
  LEFT JOIN placed_incidents p ON p.incident_id = f.incident_id
  CROSS JOIN asked
  WHERE c.is_lighting AND c.superseded_by IS NULL AND c.reported_at IS NOT NULL
    AND (asked.sites IS NULL OR list_contains(asked.sites, f.site_id))
    AND (asked.kinds IS NULL OR list_contains(asked.kinds, k.kind))
    AND (asked.first_day IS NULL OR c.reported_at::DATE >= asked.first_day)
    AND (asked.last_day IS NULL OR c.reported_at::DATE <= asked.last_day)
  GROUP BY ALL
),
lighting AS (
  SELECT month, kind, count(*) AS lighting_calls, count(*) FILTER (is_planned) AS planned_calls
  FROM each_call
  GROUP BY ALL
),
faults AS (
  SELECT
    date_trunc('month', reported_on)::DATE AS month,
    CASE WHEN $by_kind THEN kind END AS kind,
    count(*) FILTER (NOT is_planned) AS incidents,
    count(*) FILTER (is_planned) AS planned_works,
    count(*) FILTER (symptom = 'day burning') AS day_burning_incidents,
    sum(failed_probability * controls) AS control_failures_expected,
    coalesce(sum(controls) FILTER (control_failed), 0)::BIGINT AS control_failures_hard
  FROM chosen_incidents
  GROUP BY ALL
),
months AS (
  SELECT unnest(generate_series(
    date_trunc('month', greatest(log.log_from, asked.first_day)),
    date_trunc('month', least(log.log_to, asked.last_day)),
    INTERVAL 1 MONTH))::DATE AS month
  FROM log CROSS JOIN asked
),
kinds AS (
  SELECT DISTINCT kind FROM (SELECT kind FROM lighting UNION ALL SELECT kind FROM faults)
)
SELECT
  months.month,
  coalesce(kinds.kind, CASE WHEN $by_kind THEN 'unknown' ELSE 'all' END) AS kind,
  coalesce(l.lighting_calls, 0) AS lighting_calls,
  coalesce(l.planned_calls, 0) AS planned_calls,
  coalesce(l.lighting_calls - l.planned_calls, 0) AS fault_calls,
  coalesce(i.incidents, 0) AS incidents,
  coalesce(i.planned_works, 0) AS planned_works,
  coalesce(i.day_burning_incidents, 0) AS day_burning_incidents,
  coalesce(i.control_failures_expected, 0) AS control_failures_expected,
  coalesce(i.control_failures_hard, 0) AS control_failures_hard
FROM months
CROSS JOIN kinds
LEFT JOIN lighting l ON l.month = months.month AND l.kind IS NOT DISTINCT FROM kinds.kind
LEFT JOIN faults i ON i.month = months.month AND i.kind IS NOT DISTINCT FROM kinds.kind
ORDER BY months.month, kinds.kind NULLS LAST
