-- How much entered which analysis and why the rest did not: control-years of the lives, and failures as read.
, time_there AS (
  SELECT
    {group_name} AS group_name, excluded_reason AS reason,
    sum(quantity * greatest(0, date_diff('day',
      greatest(entered_on, coalesce(asked.first_day, entered_on)),
      least(ended_on, coalesce(asked.last_day + 1, ended_on))))) / 365.25 AS control_years
  FROM chosen_lives CROSS JOIN asked
  GROUP BY ALL
),
stations AS (
  SELECT DISTINCT ON (control_id, entered_on) control_id, entered_on, {group_name} AS group_name, excluded_reason, imputed
  FROM lives ORDER BY control_id, entered_on, ended_on DESC
),
ended AS (
  SELECT incident_id, any_value({group_name}) AS group_name, any_value(excluded_reason) AS excluded_reason
  FROM lives WHERE failed AND incident_id IS NOT NULL GROUP BY incident_id
),
told AS (
  SELECT
    coalesce(t.group_name, e.group_name) AS group_name, i.units, t.control_id IS NOT NULL AS placed, w.site_id IS NOT NULL AS watched,
    -- in a batch whose members' lives are drawn, every failure enters, whichever member the last draw gave it
    e.incident_id IS NOT NULL AND e.excluded_reason IS NULL OR coalesce(t.imputed, false) AS in_ages,
    coalesce(e.excluded_reason, t.excluded_reason) AS reason
  FROM chosen_incidents i
  ASOF LEFT JOIN stations t ON i.control_id = t.control_id AND i.first_reported_at >= t.entered_on
  LEFT JOIN observation_windows w
    ON w.site_id = i.site_id AND i.first_reported_at::DATE BETWEEN w.observed_from AND w.observed_to
  LEFT JOIN ended e ON e.incident_id = i.incident_id
  WHERE i.control_failed
),
failures AS (
  SELECT
    group_name,
    CASE WHEN in_ages THEN 'ages' WHEN NOT placed OR NOT watched THEN 'left out' ELSE 'rates only' END AS counted_in,
    CASE WHEN in_ages THEN NULL
         WHEN NOT placed THEN 'at no control that was under observation'
         WHEN NOT watched THEN 'reported while the log of its site was not kept'
         ELSE coalesce(reason, 'a control of known age did not end with it: the register contradicts it, '
                                || 'or an earlier failure at the place was still open') END AS reason,
    units
  FROM told
  UNION ALL
  SELECT {group_name}, CASE WHEN excluded_reason IS NULL THEN 'ages' ELSE 'rates only' END, excluded_reason, quantity
  FROM chosen_lives CROSS JOIN asked
  WHERE failed AND incident_id IS NULL
    AND coalesce(ended_on >= asked.first_day, true) AND coalesce(ended_on <= asked.last_day, true)
),
counted AS (
  SELECT group_name, counted_in, reason, sum(units) AS failures, 0.0 AS control_years FROM failures GROUP BY ALL
  UNION ALL
  SELECT group_name, CASE WHEN reason IS NULL THEN 'ages' ELSE 'rates only' END, reason, 0, control_years FROM time_there
)
FROM (
  SELECT group_name, counted_in, reason, sum(failures)::BIGINT AS failures, sum(control_years)::DOUBLE AS control_years
  FROM counted GROUP BY ALL
)
WHERE failures > 0 OR control_years > 0
ORDER BY group_name NULLS LAST, list_position(['ages', 'rates only', 'left out'], counted_in), control_years DESC, reason
