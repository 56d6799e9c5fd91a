-- part_of: the call under whose number the system files this one, where that number is in the log, once. The number may be
-- written without its letters.
WITH numbers AS (
  SELECT call_id, source, upper(regexp_replace(call_number, '[^A-Za-z0-9]', '', 'g')) AS number
  FROM calls WHERE superseded_by IS NULL AND call_number IS NOT NULL
),
keys AS (
  SELECT call_id, source, number AS key FROM numbers
  UNION
  SELECT call_id, source, regexp_replace(number, '[^0-9]', '', 'g') FROM numbers
),
unique_keys AS (
  SELECT source, key, any_value(call_id) AS call_id FROM keys WHERE key <> '' GROUP BY source, key HAVING count(*) = 1
)
SELECT c.call_id, u.call_id AS parent
FROM parsed_rows p
JOIN calls c ON c.file_id = p.file_id AND c.row_number = p.row_number
JOIN unique_keys u ON u.source = c.source AND u.key = upper(regexp_replace(p.parent_number, '[^A-Za-z0-9]', '', 'g'))
WHERE c.superseded_by IS NULL AND u.call_id <> c.call_id
