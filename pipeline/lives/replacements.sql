-- Working table: what the log says of controls that failed, or may have, and of controls changed for another reason,
-- and when a successor began. As read a failure ends a life; a control changed as planned work, or changed along with
-- other parts without being convicted, is a competing end. Resets, adjustments and work on other parts are repeat
-- events, not ends: the light worked again with the control that was there. Where the texts name no part, it is open
-- whether the control failed and was replaced.
CREATE OR REPLACE TEMP TABLE replacements AS
WITH changed AS (
  SELECT incident_id, bool_or(component = 'control' AND action IN ('replaced', 'planned')) AS control_changed,
         bool_or(component = 'control' AND action = 'planned') AS planned
  FROM findings
  GROUP BY incident_id
)
SELECT
  i.incident_id,
  i.position,
  i.control_id,
  i.first_reported_at::DATE AS reported_on,
  i.onset_central::DATE AS failed_on,
  i.restored_central::DATE AS restored_on,
  i.control_failed AS failed,
  i.failure_mode,
  i.units,
  CASE
    WHEN i.control_failed THEN coalesce(i.failure_mode, 'erratic')
    WHEN i.component = 'damage' OR i.symptom = 'damage' THEN 'damage'
    WHEN changed.planned THEN 'planned'
    ELSE 'removed'
  END AS end_reason,
  i.onset_high::DATE AS worked_on,
  i.failed_probability AS probability,
  changed.control_changed AS changed,
  f.rule
FROM incidents i
JOIN changed USING (incident_id)
LEFT JOIN findings f ON f.finding_id = i.decisive_finding_id
WHERE i.position IS NOT NULL
  AND (i.control_failed OR changed.control_changed OR (i.component = 'unknown' AND i.failed_probability > 0));
