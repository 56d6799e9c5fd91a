-- Working table: which incident each finding belongs to.
--   At one place, findings of one family of symptoms are one incident while they overlap in time, or follow,
--   within callback_days, a visit that did not cure the same symptom.
--   Where several pieces live at a place (a batch, or many lamps behind one control), two orders that each ended
--   in a replacement on a day of its own are two faults; what was not replaced goes with the next replacement.
--   A stated duplicate joins the call that it repeats.
--   A child request joins its parent where both tell of one family of symptoms and of no two places.
--   A finding at no known place stands alone: a site is too large to merge by.
CREATE OR REPLACE TEMP TABLE incident_members AS
WITH RECURSIVE originals AS (
  SELECT call_id, duplicate_of AS original, 1 AS depth
  FROM tie_calls
  WHERE duplicate_of IS NOT NULL AND duplicate_of <> call_id
  UNION ALL
  SELECT o.call_id, c.duplicate_of, o.depth + 1
  FROM originals o JOIN tie_calls c ON c.call_id = o.original
  WHERE c.duplicate_of IS NOT NULL AND c.duplicate_of <> o.call_id AND o.depth < 10
),
lamps AS (
  SELECT control_id, max(luminaires) AS luminaires FROM fixtures GROUP BY control_id
),
families AS (
  -- narrow rows: what follows sorts and joins them many times over
  SELECT
    p.finding_id, p.call_id, p.part_number, p.site_id, p.position, p.member, p.symptom, p.action, p.cause,
    p.reported_at, p.completed_at,
    CASE
      WHEN symptom IN ('day burning', 'wrong time') THEN 'on'
      WHEN symptom IN ('out', 'circuit out', 'dim', 'flicker', 'cycling') THEN 'off'
      WHEN symptom = 'damage' THEN 'damage'
    END AS own_family,
    coalesce(c.quantity > 1 AND p.member = '', false) AS many_controls,
    coalesce(l.luminaires > 1, false) AS many_lamps
  FROM placed_findings p
  LEFT JOIN controls c USING (control_id)
  LEFT JOIN lamps l USING (control_id)
),
-- A finding without a symptom takes the family of the report before it at the place, if that is recent.
with_family AS (
  SELECT
    families.*, same_fault_days, callback_days,
    coalesce(
      own_family,
      CASE WHEN reported_at - lag(reported_at) OVER place <= to_days(same_fault_days::INTEGER)
           THEN lag(own_family) OVER place END,
      'unknown'
    ) AS family,
    -- An order left open does not hold a place for ever, nor does one closed long after the work.
    coalesce(completed_at - reported_at > to_days(stale_after_days::INTEGER), true) AS end_unknown,
    -- Put right, and the cause was not in the lights: the next report is of something new.
    cause <> '' AND action IN ('replaced', 'repaired', 'reset', 'cleaned') AS cured
  FROM families, tie_settings
  WINDOW place AS (PARTITION BY position, member ORDER BY reported_at, finding_id)
),
held AS (
  SELECT
    *,
    CASE WHEN end_unknown THEN reported_at + to_days(same_fault_days::INTEGER) ELSE completed_at END AS holds_until,
    CASE WHEN end_unknown OR cured THEN 0 ELSE callback_days END AS callback_gap_days,
    CASE WHEN action = 'replaced' AND (many_controls OR (many_lamps AND family = 'off')) THEN completed_at::DATE END
      AS replaced_on
  FROM with_family
),
-- A call that does not say which piece of a batch it means goes with the one whose order was open then and
-- ended on the same day (or not at all): one visit, one fault.
same_piece AS (
  SELECT a.finding_id, arg_min(b.member, (abs(date_diff('second', a.reported_at, b.reported_at)), b.finding_id)) AS member
  FROM held a
  JOIN held b ON b.position = a.position AND b.family = a.family AND b.symptom = a.symptom AND b.member <> ''
    AND greatest(a.reported_at, b.reported_at)
        <= least(coalesce(a.completed_at, a.holds_until), coalesce(b.completed_at, b.holds_until))
    AND (a.completed_at IS NULL OR a.action = 'duplicate' OR a.completed_at::DATE = b.completed_at::DATE)
  WHERE a.many_controls
  GROUP BY a.finding_id
),
pieces AS (
  SELECT h.* REPLACE (coalesce(s.member, h.member) AS member) FROM held h LEFT JOIN same_piece s USING (finding_id)
),
-- A duplicate joins the call that it names, else the latest one still open at the same place.
named_originals AS (
  SELECT d.finding_id, arg_min(f.finding_id, (f.family <> d.family, f.part_number, f.finding_id)) AS first_finding_id
  FROM pieces d
  JOIN (SELECT call_id, arg_max(original, depth) AS original FROM originals GROUP BY call_id) o USING (call_id)
  JOIN pieces f ON f.call_id = o.original
  GROUP BY d.finding_id
),
-- A parent and its children: one fault, unless they name two places (a round that lists many has a child for each).
kin AS (
  SELECT d.finding_id, d.call_id AS child, c.part_of AS parent, f.finding_id AS first_finding_id, d.position,
         f.position AS parent_position, f.family <> d.family AS apart, f.part_number
  FROM pieces d
  JOIN tie_calls c ON c.call_id = d.call_id AND c.part_of IS NOT NULL
  JOIN pieces f ON f.call_id = c.part_of AND (f.family = d.family OR 'unknown' IN (f.family, d.family))
    AND f.site_id IS NOT DISTINCT FROM d.site_id
  WHERE d.finding_id NOT IN (SELECT finding_id FROM named_originals)
    AND f.finding_id NOT IN (SELECT finding_id FROM named_originals)
    AND f.call_id NOT IN (SELECT call_id FROM tie_calls WHERE part_of IS NOT NULL)
),
places_of_kin AS (
  SELECT parent, count(DISTINCT place) AS places
  FROM (SELECT parent, unnest([position, parent_position]) AS place FROM kin)
  GROUP BY parent
),
children AS (
  SELECT finding_id, arg_min(first_finding_id, (apart, part_number, first_finding_id)) AS first_finding_id
  FROM kin JOIN places_of_kin USING (parent)
  WHERE places <= 1
  GROUP BY finding_id
),
repeats AS (
  FROM named_originals
  UNION ALL
  FROM children
  UNION ALL
  SELECT d.finding_id, arg_max(f.finding_id, (f.reported_at, f.finding_id))
  FROM pieces d
  JOIN pieces f ON f.position = d.position AND f.family = d.family AND f.action <> 'duplicate'
    AND f.reported_at <= d.reported_at AND d.reported_at <= coalesce(f.completed_at, f.holds_until)
  WHERE d.action = 'duplicate' AND d.finding_id NOT IN (SELECT finding_id FROM named_originals)
    AND d.finding_id NOT IN (SELECT finding_id FROM children)
  GROUP BY d.finding_id
),
placed AS (
  SELECT * FROM pieces WHERE position IS NOT NULL AND finding_id NOT IN (SELECT finding_id FROM repeats)
),
replacements AS (
  SELECT position, member, family, reported_at, completed_at, replaced_on FROM placed WHERE replaced_on IS NOT NULL
),
-- What was not replaced goes with the replacement then under way, else with the next one while its hold lasts.
anchored AS (
  SELECT
    p.*,
    coalesce(
      p.replaced_on,
      CASE WHEN p.reported_at <= before.completed_at THEN before.replaced_on END,
      CASE WHEN next.reported_at <= p.holds_until + to_days(p.callback_gap_days::INTEGER) THEN next.replaced_on END
    ) AS anchor
  FROM placed p
  ASOF LEFT JOIN replacements before
    ON before.position = p.position AND before.member = p.member AND before.family = p.family
    AND before.reported_at <= p.reported_at
  ASOF LEFT JOIN replacements next
    ON next.position = p.position AND next.member = p.member AND next.family = p.family
    AND next.reported_at >= p.reported_at
),
chained AS (
  SELECT
    finding_id, position, member, family, anchor, reported_at,
    coalesce(reported_at > max(holds_until) OVER earlier, true)
      AND coalesce(reported_at > max(holds_until + to_days(callback_gap_days::INTEGER)) OVER same_symptom, true)
      AS begins_anew
  FROM anchored
  WINDOW
    earlier AS (
      PARTITION BY position, member, family, anchor ORDER BY reported_at, finding_id
      ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING),
    same_symptom AS (
      PARTITION BY position, member, family, anchor, CASE WHEN family = 'on' THEN symptom END
      ORDER BY reported_at, finding_id ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
),
numbered AS (
  SELECT *, sum(begins_anew::INTEGER) OVER (
    PARTITION BY position, member, family, anchor ORDER BY reported_at, finding_id) AS number
  FROM chained
),
own AS (
  SELECT finding_id, first_value(finding_id) OVER (
    PARTITION BY position, member, family, anchor, number ORDER BY reported_at, finding_id) AS incident_id
  FROM numbered
  UNION ALL
  SELECT finding_id, finding_id
  FROM pieces
  WHERE position IS NULL AND finding_id NOT IN (SELECT finding_id FROM repeats)
),
resolved AS (
  SELECT finding_id, incident_id FROM own
  UNION ALL
  SELECT r.finding_id, coalesce(o.incident_id, r.finding_id)
  FROM repeats r LEFT JOIN own o ON o.finding_id = r.first_finding_id
)
SELECT
  p.* EXCLUDE (evidence) REPLACE (g.member AS member), g.family, g.many_controls, g.many_lamps, r.incident_id,
  -- how much an action tells of the fault: the heaviest is decisive
  CASE p.action WHEN 'replaced' THEN 6 WHEN 'repaired' THEN 5 WHEN 'planned' THEN 5 WHEN 'bypassed' THEN 4
                WHEN 'reset' THEN 4 WHEN 'cleaned' THEN 4 WHEN 'none found' THEN 2 WHEN 'duplicate' THEN 0 ELSE 1 END AS weight
FROM placed_findings p JOIN pieces g USING (finding_id) JOIN resolved r USING (finding_id);
