-- Working table: every finding with the control row that it concerns on the day of its report.
--   1. a place named: the row there, of the kind named, in place on that day
--   2. no place named, but coordinates beside one registered place and no other: that place
--   3. no place by either, but a kind: the row of that kind, where the site has only one
--   4. a fault of the lamps' circuit belongs to the device that carries its current (switched_by)
--   5. no control register at all: the asset or the address as called in is a place of its own, and so are calls that
--      stand within a few metres of one another
--   6. what a person decided on review goes before all of these
-- A round of inspection that found nothing, or whose faults stand in orders of their own, is no finding.
CREATE OR REPLACE TEMP TABLE rounds AS
SELECT k.call_id, t.action
FROM call_keys k JOIN told t USING (key_id)
WHERE t.is_round AND t.part_number = 1;

UPDATE calls SET no_finding_reason =
  CASE WHEN r.action = 'none found' THEN 'inspection that found nothing'
       ELSE 'inspection; its faults stand in orders of their own' END
FROM rounds r
WHERE calls.call_id = r.call_id;

-- Every device down the chain of switched_by, with how many steps away it is; the register holds no loop.
CREATE OR REPLACE TEMP TABLE chains AS
WITH RECURSIVE followed AS (
  SELECT control_id, switched_by AS device_id, 1 AS steps FROM controls WHERE switched_by IS NOT NULL
  UNION ALL
  SELECT f.control_id, c.switched_by, f.steps + 1
  FROM followed f JOIN controls c ON c.control_id = f.device_id
  WHERE c.switched_by IS NOT NULL AND f.steps < 100
)
SELECT f.control_id, f.device_id, f.steps, d.position, d.switched_by IS NULL AS carries
FROM followed f JOIN controls d ON d.control_id = f.device_id;

CREATE OR REPLACE TEMP TABLE placed_findings AS
WITH placeless AS (
  SELECT key_id FROM told GROUP BY key_id HAVING count(position) = 0
),
-- A call's coordinates speak where its words name no place at all; beside a place of another site than it names, or
-- beside two places, they only hint.
nearby AS (
  SELECT n.call_id, n.near_position, n.near_site_id, n.near_metres,
         n.near_confidence * CASE WHEN m.site_id IS DISTINCT FROM n.near_site_id AND m.site_id IS NOT NULL
                                  THEN 0.55 ELSE 1 END AS near_confidence
  FROM near_places n
  JOIN call_keys USING (call_id)
  JOIN placeless USING (key_id)
  JOIN tie_calls c USING (call_id)
  JOIN call_sites m USING (call_id)
),
told_findings AS (
  SELECT
    c.call_id || '-' || t.part_number AS finding_id,
    c.call_id, c.reported_at, c.completed_at, c.end_undated, c.says_work, c.says_problem,
    t.* EXCLUDE (
      key_id, site_id, position, tagged_control_id, method, confidence, symptom, rule, probability, failure_mode, evidence),
    CASE WHEN a.call_id IS NOT NULL THEN a.site_id WHEN near THEN n.near_site_id ELSE t.site_id END AS site_id,
    CASE WHEN a.call_id IS NOT NULL THEN a.position WHEN near THEN n.near_position ELSE t.position END AS position,
    coalesce(a.control_id, t.tagged_control_id) AS tagged_control_id,
    CASE WHEN a.call_id IS NOT NULL THEN 'decided' WHEN near THEN 'coordinates' ELSE t.method END AS method,
    CASE WHEN a.call_id IS NOT NULL THEN 1.0 WHEN near THEN round(n.near_confidence, 3) ELSE t.confidence END AS confidence,
    coalesce(y.symptom, t.symptom) AS symptom,
    coalesce(y.rule, t.rule) AS rule,
    coalesce(y.probability, t.probability) AS probability,
    coalesce(y.failure_mode, t.failure_mode) AS failure_mode,
    coalesce(y.evidence, t.evidence)
    || CASE WHEN m.said IS NOT NULL THEN ' (site ' || m.said || ')' ELSE '' END
    || CASE
      WHEN a.call_id IS NOT NULL THEN ' (control ' || a.said || ')'
      WHEN near THEN ' (' || round(n.near_metres, 1) || ' m away)'
      WHEN n.near_position IS NOT NULL
        THEN ' (perhaps at ' || n.near_position || ': coordinates, ' || round(n.near_confidence, 2) || ')'
      ELSE '' END AS evidence,
    CASE WHEN a.call_id IS NOT NULL THEN 'decided'
         WHEN m.site_id IS NOT NULL THEN m.site_match
         WHEN near THEN 'coordinates'
         WHEN t.site_id IS NULL THEN '' ELSE t.method END AS site_match
  FROM (SELECT tie_calls.*, coalesce(nearby.near_confidence >= s.least_confidence, false) AS near
        FROM tie_calls LEFT JOIN nearby USING (call_id) CROSS JOIN tie_settings s) c
  LEFT JOIN nearby n USING (call_id)
  JOIN call_sites m USING (call_id)
  JOIN call_keys k USING (call_id)
  JOIN told t USING (key_id)
  LEFT JOIN decided_assets a ON a.call_id = c.call_id
  LEFT JOIN decided_symptoms y ON y.call_id = c.call_id AND y.part_number = t.part_number
  WHERE c.call_id NOT IN (SELECT call_id FROM rounds)
),
-- Time switch and timer are said for one another; any other kind means itself.
kinds AS (
  SELECT * FROM (VALUES
    ('photocontrol', 'photocontrol', 0), ('time switch', 'time switch', 0), ('time switch', 'timer', 1),
    ('timer', 'timer', 0), ('timer', 'time switch', 1), ('occupancy sensor', 'occupancy sensor', 0),
    ('contactor', 'contactor', 0)
  ) AS k(named, registered, distance)
),
rows_at_place AS (
  SELECT
    f.finding_id, c.control_id,
    f.kind <> '' AND c.kind IS NOT NULL AND k.named IS NULL AS kind_is_another,
    row_number() OVER (
      PARTITION BY f.finding_id
      ORDER BY
        -- decided: that control, if it was there on the day; else whichever then stood in its place
        (f.method = 'decided' AND c.control_id = f.tagged_control_id
          AND coalesce(c.installed_on <= f.reported_at::DATE, true)
          AND coalesce(c.removed_on >= f.reported_at::DATE, true)) DESC,
        coalesce(k.distance, CASE WHEN f.kind = '' OR c.kind IS NULL THEN 2 ELSE 3 END),
        coalesce(c.installed_on <= f.reported_at::DATE, true) DESC,
        coalesce(c.removed_on >= f.reported_at::DATE, true) DESC,
        (c.control_id = f.tagged_control_id) DESC NULLS LAST,
        c.installed_on DESC NULLS LAST, c.control_id
    ) AS preference
  FROM told_findings f
  JOIN controls c ON c.position = f.position
  LEFT JOIN kinds k ON k.named = f.kind AND k.registered = c.kind
),
rows_of_kind AS (
  SELECT f.finding_id, k.distance, count(*) AS rows, any_value(c.control_id) AS control_id,
         any_value(c.position) AS position
  FROM told_findings f
  JOIN kinds k ON k.named = f.kind
  JOIN controls c ON c.site_id = f.site_id AND c.kind = k.registered
  WHERE f.position IS NULL
    AND coalesce(c.installed_on <= f.reported_at::DATE, true)
    AND coalesce(c.removed_on >= f.reported_at::DATE, true)
  GROUP BY ALL
),
only_one_of_kind AS (
  SELECT finding_id, control_id, position
  FROM rows_of_kind
  QUALIFY row_number() OVER (PARTITION BY finding_id ORDER BY distance) = 1 AND rows = 1
),
tied AS (
  SELECT
    f.* EXCLUDE (position, method, confidence),
    coalesce(at_place.control_id, of_kind.control_id) AS control_id,
    coalesce(f.position, of_kind.position) AS position,
    CASE WHEN f.position IS NOT NULL THEN f.method
         WHEN of_kind.control_id IS NOT NULL THEN 'kind'
         WHEN f.site_id IS NOT NULL THEN 'site' ELSE '' END AS tie_method,
    CASE WHEN at_place.kind_is_another AND f.method <> 'decided' THEN f.confidence * 0.7
         WHEN f.position IS NOT NULL THEN f.confidence
         WHEN of_kind.control_id IS NOT NULL THEN 0.8 END AS tie_confidence
  FROM told_findings f
  LEFT JOIN rows_at_place at_place ON at_place.finding_id = f.finding_id AND at_place.preference = 1
  LEFT JOIN only_one_of_kind of_kind ON of_kind.finding_id = f.finding_id
),
-- The device at the end of the chain carries the current; a contactor that is named at its own place is itself meant.
carried AS (
  SELECT t.finding_id, d.device_id AS control_id, d.position
  FROM tied t
  JOIN controls c ON c.control_id = t.control_id
  JOIN chains d ON d.control_id = t.control_id AND d.carries
  WHERE t.tie_method <> 'decided'
    AND (t.kind = 'contactor' AND c.kind IS DISTINCT FROM 'contactor'
         OR t.kind = '' AND t.symptom = 'circuit out' AND t.tie_method <> 'tag')
),
-- A circuit that is out is often reported pole by pole. Dark reports at three places or more, and at half or more of those
-- that one device carries, within same_fault_days of one another and ended on the same day (or not at all), none of them by
-- work on a part of its own place, are one fault of the circuit. Half: assumption of this project, no source.
dark_on_circuit AS (
  SELECT t.finding_id, t.position, t.reported_at, t.completed_at::DATE AS ended_on, k.device_id, k.position AS device_position
  FROM tied t
  JOIN chains k ON k.control_id = t.control_id AND k.carries AND k.position <> t.position
  WHERE t.tie_method <> 'decided' AND t.symptom IN ('out', 'circuit out')
    AND (t.component IN ('unknown', 'supply', 'wiring') OR t.kind = 'contactor')
),
on_circuit AS (
  SELECT k.device_id, count(DISTINCT c.position) AS places
  FROM chains k JOIN controls c USING (control_id)
  WHERE k.carries AND c.removed_on IS NULL
  GROUP BY k.device_id
),
pole_by_pole AS (
  SELECT p.finding_id, p.device_id AS control_id, p.device_position AS position, count(DISTINCT o.position) AS places
  FROM dark_on_circuit p
  JOIN dark_on_circuit o ON o.device_id = p.device_id
    AND abs(date_diff('second', p.reported_at, o.reported_at)) <= 86400 * (SELECT same_fault_days FROM tie_settings)
    AND (p.ended_on = o.ended_on OR p.ended_on IS NULL OR o.ended_on IS NULL)
  JOIN on_circuit n ON n.device_id = p.device_id
  GROUP BY p.finding_id, p.device_id, p.device_position
  HAVING count(DISTINCT o.position) >= greatest(3, any_value(n.places) / 2)
),
-- A place named for its carrying device, but the work was on the control that drives it: the nearest of the kind named.
driving AS (
  SELECT t.finding_id, any_value(d.control_id) AS control_id, any_value(d.position) AS position
  FROM tied t
  JOIN controls c ON c.control_id = t.control_id
  JOIN chains k ON k.device_id = c.control_id
  JOIN controls d ON d.control_id = k.control_id AND d.kind = t.kind
  WHERE t.kind <> '' AND t.kind <> c.kind AND t.tie_method <> 'decided'
    AND coalesce(d.installed_on <= t.reported_at::DATE, true) AND coalesce(d.removed_on >= t.reported_at::DATE, true)
  GROUP BY t.finding_id, k.steps
  QUALIFY k.steps = min(k.steps) OVER (PARTITION BY t.finding_id) AND count(*) = 1
),
as_called AS (
  SELECT
    f.finding_id,
    CASE WHEN trim(coalesce(c.asset_text, '')) <> '' THEN coalesce({at_site}, {alone})
         WHEN trim(coalesce(c.address_text, '')) <> '' AND NOT EXISTS (FROM sites)
           THEN upper(regexp_replace(trim(c.address_text), '\s+', ' ', 'g'))
         ELSE s.stands_at
    END AS position,
    CASE WHEN trim(coalesce(c.asset_text, '')) <> '' THEN 'tag'
         WHEN trim(coalesce(c.address_text, '')) <> '' THEN 'address' ELSE 'coordinates' END AS tie_method
  FROM tied f
  JOIN tie_calls c USING (call_id)
  LEFT JOIN stands_at s USING (latitude, longitude)
  WHERE f.position IS NULL AND NOT EXISTS (FROM controls)
)
SELECT
  t.* EXCLUDE (control_id, position, tie_method, tie_confidence, site_id, site_match, evidence),
  coalesce(d.site_id, t.site_id) AS site_id,
  CASE WHEN d.finding_id IS NOT NULL THEN 'decided' ELSE t.site_match END AS site_match,
  coalesce(d.control_id, carried.control_id, c.control_id, driving.control_id, t.control_id) AS control_id,
  coalesce(d.position, carried.position, c.position, driving.position, t.position, a.position) AS position,
  CASE WHEN d.finding_id IS NOT NULL THEN 'decided'
       WHEN a.position IS NOT NULL THEN a.tie_method ELSE t.tie_method END AS tie_method,
  CASE WHEN d.finding_id IS NOT NULL THEN 1.0
       ELSE coalesce(t.tie_confidence, CASE WHEN a.position IS NOT NULL THEN 0.8 END) END AS tie_confidence,
  t.evidence || CASE WHEN d.finding_id IS NOT NULL THEN ' (control ' || d.said || ')'
                     WHEN c.places IS NOT NULL THEN ' (' || c.places || ' places of one circuit dark at once)'
                     ELSE '' END AS evidence
FROM tied t
LEFT JOIN decided_controls d USING (finding_id)
LEFT JOIN carried USING (finding_id)
LEFT JOIN pole_by_pole c USING (finding_id)
LEFT JOIN driving USING (finding_id)
LEFT JOIN as_called a USING (finding_id);
