-- Stays cut where the load changes: the hazard follows the present load (an assumption, stated), so the first
-- stretch ends censored ('load changed') and the next enters at that age.
WITH cut AS (
  SELECT
    s.* EXCLUDE (entered_on, ended_on),
    greatest(s.entered_on, coalesce(l.begins, s.entered_on)) AS entered_on,
    least(s.ended_on, coalesce(l.ends, s.ended_on)) AS ended_on,
    s.ended_on > l.ends AS load_changes,
    l.lamp,
    l.inrush_stress
  FROM stays s
  LEFT JOIN lamp_spans l
    ON l.control_id = s.control_id
   AND l.begins <= s.ended_on AND l.ends >= s.entered_on
   -- a boundary day belongs to the later load, save for a stay that lasts a single day
   AND (l.begins < s.ended_on OR s.entered_on = s.ended_on)
   AND l.ends > s.entered_on
),
numbered AS (
  SELECT
    *, row_number() OVER (PARTITION BY stay_number ORDER BY entered_on) AS segment,
    coalesce(load_changes AND lead(entered_on) OVER (PARTITION BY stay_number ORDER BY entered_on) IS NOT NULL, false)
      AS goes_on
  FROM cut
)
SELECT
  n.control_id || '#' || n.succession AS life_id,
  n.segment,
  n.control_id,
  c.position,
  c.site_id,
  c.kind,
  c.model,
  c.switching,
  n.lamp,
  n.inrush_stress,
  c.operations_per_year,
  n.register_case,
  n.started_on,
  n.entered_on,
  n.ended_on,
  date_diff('day', n.started_on, n.entered_on)::DOUBLE AS entry_days,
  CASE WHEN n.failed AND NOT n.goes_on AND n.ended_on = n.entered_on
       THEN date_diff('day', n.started_on, n.entered_on) + 0.5
       ELSE date_diff('day', n.started_on, n.ended_on)::DOUBLE END AS exit_days,
  NULL::DOUBLE AS exit_low_days,
  n.failed AND NOT n.goes_on AS failed,
  CASE WHEN n.goes_on THEN 'load changed' ELSE n.end_reason END AS end_reason,
  n.quantity,
  false AS imputed,
  CASE WHEN n.goes_on THEN NULL ELSE n.incident_id END AS incident_id,
  CASE
    WHEN n.excluded_reason IS NOT NULL THEN n.excluded_reason
    WHEN n.ended_on = n.entered_on AND NOT (n.failed AND NOT n.goes_on) THEN 'no time under observation'
  END AS excluded_reason
FROM numbered n
JOIN controls c USING (control_id)
