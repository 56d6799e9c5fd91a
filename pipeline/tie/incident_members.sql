-- Working table: which incident each finding belongs to.
-- At one place, findings of one family of symptoms are one incident while they overlap in time, or follow a
-- completed visit within callback_days, or an open report within same_fault_days. A stated duplicate joins the
-- call that it repeats. A finding at no known place stands alone: a site is too large to merge by.
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
families AS (
  SELECT
    p.*,
    CASE
      WHEN symptom IN ('day burning', 'wrong time') THEN 'on'
      WHEN symptom IN ('out', 'circuit out', 'dim', 'flicker', 'cycling') THEN 'off'
      WHEN symptom = 'damage' THEN 'damage'
    END AS own_family
  FROM placed_findings p
),
-- A finding without a symptom takes the family of the report before it at the place, if that is recent.
with_family AS (
  SELECT
    *,
    coalesce(
      own_family,
      CASE WHEN reported_at - lag(reported_at) OVER place <= to_days(same_fault_days::INTEGER)
           THEN lag(own_family) OVER place END,
      'unknown'
    ) AS family,
    -- An order left open does not hold a place for ever: the next report there is a fault of its own.
    least(coalesce(completed_at, reported_at + to_days(same_fault_days::INTEGER)),
          reported_at + to_days(stale_after_days::INTEGER)) AS holds_until
  FROM families, tie_settings
  WINDOW place AS (PARTITION BY position, member ORDER BY reported_at, finding_id)
),
repeats AS (
  SELECT d.finding_id, arg_min(f.finding_id, (f.family <> d.family)::INTEGER * 1000 + f.part_number) AS first_finding_id
  FROM with_family d
  JOIN (SELECT call_id, arg_max(original, depth) AS original FROM originals GROUP BY call_id) o USING (call_id)
  JOIN with_family f ON f.call_id = o.original
  GROUP BY d.finding_id
),
chained AS (
  SELECT
    finding_id, position, member, family, reported_at,
    reported_at > max(holds_until) OVER earlier + to_days(callback_days::INTEGER) AS begins_anew
  FROM with_family
  WHERE position IS NOT NULL AND finding_id NOT IN (SELECT finding_id FROM repeats)
  WINDOW earlier AS (
    PARTITION BY position, member, family ORDER BY reported_at, finding_id ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
  )
),
numbered AS (
  SELECT *, sum(coalesce(begins_anew, true)::INTEGER) OVER (
    PARTITION BY position, member, family ORDER BY reported_at, finding_id) AS number
  FROM chained
),
own AS (
  SELECT finding_id, first_value(finding_id) OVER (
    PARTITION BY position, member, family, number ORDER BY reported_at, finding_id) AS incident_id
  FROM numbered
  UNION ALL
  SELECT finding_id, finding_id
  FROM with_family
  WHERE position IS NULL AND finding_id NOT IN (SELECT finding_id FROM repeats)
),
resolved AS (
  SELECT finding_id, incident_id FROM own
  UNION ALL
  SELECT r.finding_id, coalesce(o.incident_id, r.finding_id)
  FROM repeats r LEFT JOIN own o ON o.finding_id = r.first_finding_id
)
SELECT w.*, r.incident_id
FROM with_family w JOIN resolved r USING (finding_id);
