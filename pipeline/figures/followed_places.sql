-- Places followed from a day on, or from the first later day on which the age there is known, until a day, the end of
-- the record, or a change of model or load: how old what worked there was, and what failed since. With $positions (and
-- $kinds_at, $since: lists of equal length) only those places, each from its own day on.
, own AS (
  SELECT unnest($positions::VARCHAR[]) AS position, unnest($kinds_at::VARCHAR[]) AS kind, unnest($since::DATE[]) AS since
),
stretches AS (
  SELECT l.* REPLACE (coalesce(l.kind, '') AS kind), c.quantity > 1 AS is_batch
  FROM lives l JOIN controls c ON c.control_id = l.control_id
),
marked AS (
  SELECT *,
    CASE WHEN model IS NOT DISTINCT FROM lag(model) OVER w AND lamp IS NOT DISTINCT FROM lag(lamp) OVER w
          AND lag(end_reason) OVER w <> 'record interrupted' THEN 0 ELSE 1 END AS breaks,
    lead(entered_on) OVER w AS next_on
  FROM stretches
  WINDOW w AS (PARTITION BY position, kind ORDER BY entered_on, ended_on, life_id, segment)
),
numbered AS (
  SELECT *, sum(breaks) OVER (PARTITION BY position, kind ORDER BY entered_on, ended_on, life_id, segment) AS run
  FROM marked
),
spans AS (
  SELECT
    n.position, n.kind, n.run, any_value(n.site_id) AS site_id, any_value(n.model) AS model, any_value(n.lamp) AS lamp,
    any_value(n.is_batch) AS is_batch, coalesce(any_value(o.since), $first_day::DATE) AS since,
    -- what failed last is followed until its successor came, or to the end: a span must not end because of a failure
    least($last_day::DATE, max(CASE WHEN n.failed THEN coalesce(n.next_on, $last_day::DATE) ELSE n.ended_on END)) AS until
  FROM numbered n
  LEFT JOIN own o ON o.position = n.position AND o.kind = n.kind
  WHERE $positions IS NULL OR o.position IS NOT NULL
  GROUP BY n.position, n.kind, n.run
),
begun AS (
  SELECT s.*, min(greatest(n.entered_on, s.since)) AS begins
  FROM spans s
  JOIN numbered n ON n.position = s.position AND n.kind = s.kind AND n.run = s.run
  WHERE n.excluded_reason IS NULL AND n.started_on IS NOT NULL AND n.ended_on > s.since
  GROUP BY ALL
),
followed AS (
  SELECT
    b.*,
    (SELECT struct_pack(started_on := min(n.started_on), quantity := sum(n.quantity)) FROM numbered n
     WHERE n.position = b.position AND n.kind = b.kind AND n.run = b.run AND n.excluded_reason IS NULL
       AND n.entered_on <= b.begins AND n.ended_on > b.begins) AS there
  FROM begun b
  WHERE b.until > b.begins
),
failures AS (
  SELECT f.position, f.kind, f.run, sum(n.quantity) AS failures, list(n.incident_id) AS incident_ids
  FROM followed f
  JOIN numbered n ON n.position = f.position AND n.kind = f.kind AND n.run = f.run
  WHERE NOT f.is_batch AND n.failed AND n.ended_on > f.begins AND n.ended_on <= f.until
  GROUP BY ALL
  UNION ALL
  SELECT f.position, f.kind, f.run, sum(i.units), list(i.incident_id)
  FROM followed f
  JOIN controls c ON c.position = f.position AND coalesce(c.kind, '') = f.kind AND c.quantity > 1
  JOIN incidents i ON i.control_id = c.control_id AND i.control_failed
    AND i.first_reported_at::DATE > f.begins AND i.first_reported_at::DATE <= f.until
  WHERE f.is_batch
  GROUP BY ALL
)
SELECT
  f.site_id, f.position, f.kind, f.model, f.lamp, f.begins, f.until,
  date_diff('day', f.there.started_on, f.begins)::DOUBLE AS age_days,
  date_diff('day', f.begins, f.until)::DOUBLE AS days,
  f.there.quantity::BIGINT AS quantity,
  coalesce(x.failures, 0)::BIGINT AS failures,
  coalesce(x.incident_ids, []) AS incident_ids
FROM followed f
LEFT JOIN failures x ON x.position = f.position AND x.kind = f.kind AND x.run = f.run
WHERE f.there.quantity > 0
ORDER BY f.site_id, f.position, f.kind, f.begins
