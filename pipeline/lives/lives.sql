-- Stays cut where the load changes: the hazard follows the present load (an assumption, stated), so the first
-- stretch ends censored ('load changed') and the next enters at that age. {stays}: the working table of them.
-- A failure happened between the last day that the control is known to have worked and its report: exit_low_days to
-- exit_days, within the stretch in which its central day falls. Where the two are one day, the age is taken as exact.
WITH cut AS (
  SELECT
    s.* EXCLUDE (entered_on, ended_on),
    greatest(s.entered_on, coalesce(l.begins, s.entered_on)) AS entered_on,
    least(s.ended_on, coalesce(l.ends, s.ended_on)) AS ended_on,
    s.ended_on > l.ends AS load_changes,
    coalesce(l.ends, DATE '9999-01-01') AS load_ends,
    l.lamp,
    l.inrush_stress,
    l.inrush_unverified
  FROM {stays} s
  LEFT JOIN lamp_spans l
    ON l.control_id = s.control_id
   AND l.begins <= s.ended_on AND l.ends >= s.entered_on
   -- a boundary day belongs to the later load, save for a stay that lasts a single day
   AND (l.begins < s.ended_on OR s.entered_on = s.ended_on)
   AND l.ends > s.entered_on
),
numbered AS (
  SELECT
    *, row_number() OVER (PARTITION BY draw, control_id, succession ORDER BY entered_on, stay_number) AS segment,
    coalesce(load_changes AND lead(entered_on) OVER (PARTITION BY stay_number ORDER BY entered_on) IS NOT NULL, false)
      AS goes_on
  FROM cut
),
ended AS (
  SELECT
    *,
    failed AND NOT goes_on AS fails,
    CASE WHEN failed AND NOT goes_on AND ended_on = entered_on
         THEN date_diff('day', started_on, entered_on) + 0.5
         ELSE date_diff('day', started_on, ended_on)::DOUBLE END AS central_days,
    -- greatest and least pass over an empty value: a failure of one known day must stay exact
    CASE WHEN failed AND NOT goes_on AND failed_by IS NOT NULL AND failed_after IS NOT NULL
         THEN greatest(failed_after, entered_on) END AS after_day,
    CASE WHEN failed AND NOT goes_on AND failed_by IS NOT NULL AND failed_after IS NOT NULL
         THEN least(failed_by, load_ends) END AS by_day
  FROM numbered
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
  n.inrush_unverified,
  c.operations_per_year,
  n.register_case,
  n.started_on,
  n.entered_on,
  n.ended_on,
  date_diff('day', n.started_on, n.entered_on)::DOUBLE AS entry_days,
  CASE WHEN n.by_day > n.after_day THEN date_diff('day', n.started_on, n.by_day)::DOUBLE ELSE n.central_days END AS exit_days,
  CASE WHEN n.by_day > n.after_day THEN date_diff('day', n.started_on, n.after_day)::DOUBLE END AS exit_low_days,
  n.central_days AS exit_central_days,
  n.fails AS failed,
  CASE WHEN n.goes_on THEN 'load changed' ELSE n.end_reason END AS end_reason,
  n.quantity,
  n.imputed,
  CASE WHEN n.goes_on THEN NULL ELSE n.incident_id END AS incident_id,
  CASE
    WHEN n.excluded_reason IS NOT NULL THEN n.excluded_reason
    WHEN n.ended_on = n.entered_on AND NOT n.fails THEN 'no time under observation'
  END AS excluded_reason,
  n.draw
FROM ended n
JOIN controls c USING (control_id)
