-- calls: every parsed row that can be a call, the latest state of each told from earlier ones.
-- Reads parsed_rows (the files' parsed rows with file_id, source and name), lighting_verdicts and the log's span.
WITH files_in_order AS (
  -- A later export is one that holds a later report or completion: one of old calls alone, made anew, has later completions.
  -- Its name decides only between equals.
  SELECT file_id, row_number() OVER (
    ORDER BY greatest(max(reported_at) FILTER (reported_at::DATE <= $log_to), max(completed_at) FILTER (completed_at::DATE <= $log_to)),
      any_value(file_name)
  ) AS file_order
  FROM parsed_rows GROUP BY file_id
),
default_coordinates AS (
  -- One coordinate under many different places is what a system writes when it has found none.
  SELECT latitude, longitude FROM parsed_rows
  WHERE latitude IS NOT NULL AND longitude IS NOT NULL AND reject_reason IS NULL
  GROUP BY latitude, longitude
  HAVING (count(*) >= $default_rows AND count(DISTINCT coalesce(address_text, site_text)) >= $default_places)
      OR (latitude = 0 AND longitude = 0)
),
dated AS (
  SELECT p.* EXCLUDE (completed_at, status, work_type, flags, latitude, longitude), f.file_order,
    -- A completion that gives only its day, the day of the report, is no earlier than the report.
    CASE
      WHEN p.completed_at < p.reported_at AND p.completed_at = date_trunc('day', p.reported_at) THEN p.reported_at
      -- In the hour that comes twice in autumn a later time may be written as an earlier one.
      WHEN p.completed_at < p.reported_at AND comes_twice(p.completed_at) AND comes_twice(p.reported_at)
        AND p.reported_at < p.completed_at + INTERVAL 1 HOUR THEN p.reported_at
      WHEN p.completed_at < p.reported_at OR p.completed_at > $latest_completion THEN NULL
      ELSE p.completed_at
    END AS completed_at,
    p.completed_at AS completion_as_written,
    p.status AS status_as_mapped,
    coalesce(p.work_type, CASE WHEN p.work_type_text IS NULL THEN w.work_type END, 'reactive') AS work_type,
    p.work_type_text IS NULL AND w.work_type IS NOT NULL AS is_work_type_by_words,
    CASE WHEN abs(p.latitude) <= 90 AND abs(p.longitude) <= 180 THEN p.latitude END AS latitude,
    CASE WHEN abs(p.latitude) <= 90 AND abs(p.longitude) <= 180 THEN p.longitude END AS longitude,
    list_concat(p.flags, list_filter([
      CASE WHEN p.completed_at < p.reported_at AND p.completed_at <> date_trunc('day', p.reported_at)
          AND NOT (comes_twice(p.completed_at) AND comes_twice(p.reported_at)
                   AND p.reported_at < p.completed_at + INTERVAL 1 HOUR)
        THEN 'completed before reported' END,
      CASE WHEN left_out_by_clocks(p.reported_at) OR left_out_by_clocks(p.completed_at) THEN 'hour to check' END,
      CASE WHEN p.completed_at > $latest_completion THEN 'date to check' END,
      CASE WHEN p.reported_at::DATE NOT BETWEEN $log_from AND $log_to THEN 'outside the log' END,
      CASE WHEN d.latitude IS NOT NULL THEN 'default coordinate' END,
      CASE WHEN abs(p.latitude) > 90 OR abs(p.longitude) > 180 THEN 'coordinate to check' END,
      CASE WHEN p.work_type_text IS NOT NULL AND p.work_type IS NULL THEN 'work type to check' END
    ], lambda flag: flag IS NOT NULL)) AS flags
  FROM parsed_rows p
  JOIN files_in_order f USING (file_id)
  LEFT JOIN default_coordinates d ON d.latitude = p.latitude AND d.longitude = p.longitude
  LEFT JOIN worded_types w ON w.problem IS NOT DISTINCT FROM p.problem_text
    AND w.category IS NOT DISTINCT FROM p.category_text
  WHERE p.reject_reason IS NULL
),
states AS (
  SELECT *,
    CASE
      WHEN status_as_mapped IS NOT NULL THEN status_as_mapped
      WHEN status_text IS NOT NULL THEN 'unknown'
      WHEN completion_as_written IS NOT NULL THEN 'completed'
      WHEN has_completion THEN 'open'
      ELSE 'unknown'
    END AS status,
    -- Without a number, alike rows of one file are different calls and alike rows of two files are the same one.
    CASE WHEN call_number IS NOT NULL THEN md5(concat_ws(chr(31), source, 'number', call_number))
      ELSE md5(concat_ws(chr(31), source, 'content', content_key,
        row_number() OVER (PARTITION BY file_id, source, call_number, content_key ORDER BY row_number)))
    END[1:16] AS identity
  FROM dated
),
ranked AS (
  SELECT *,
    row_number() OVER (PARTITION BY identity ORDER BY
      -- a later export speaks for the present, a call opened again included
      file_order, coalesce(completed_at, TIMESTAMP '0001-01-01'), status IN ('completed', 'cancelled'), row_number
    ) AS state,
    count(*) OVER (PARTITION BY identity) AS states
  FROM states
)
SELECT
  CASE WHEN state = states THEN identity ELSE identity || '-' || state END AS call_id,
  file_id, row_number, source, call_number, reported_at, completed_at, status, work_type,
  is_work_type_by_words,
  trim(site_text) AS site_text, asset_text, trim(address_text) AS address_text, latitude, longitude,
  problem_text, action_text, category_text,
  labour_hours, labour_cost, material_cost, contract_cost,
  v.is_lighting, v.by_text AS is_lighting_by_text, v.evidence AS lighting_evidence,
  CASE WHEN state < states THEN identity END AS superseded_by,
  CASE
    WHEN NOT v.is_lighting THEN NULL
    WHEN state < states THEN 'superseded'
    WHEN status = 'cancelled' THEN 'cancelled'
  END AS no_finding_reason,
  nullif(flags, []) AS flags
FROM ranked r
JOIN lighting_verdicts v ON v.problem IS NOT DISTINCT FROM r.problem_text
  AND v.action IS NOT DISTINCT FROM r.action_text AND v.category IS NOT DISTINCT FROM r.category_text
ORDER BY file_order, row_number
