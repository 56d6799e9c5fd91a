-- duplicate_of: a call that says it repeats another, by the number it states, where that number is in the log.
-- The number may be written without the system's leading digits: then it must be the end of exactly one number.
WITH said AS (
  SELECT call_id, source, reported_at,
    regexp_replace(
      regexp_extract(concat_ws(' | ', action_text, problem_text),
        '(?i)\b(?:duplicates?|dupe?|duplicated|same as|already (?:reported|logged|called in))\b([^|]{0,80})', 1),
      '\b[0-9]{1,2}[/.][0-9]{1,2}([/.][0-9]{2,4})?\b', ' ', 'g'
    ) AS words
  FROM calls WHERE superseded_by IS NULL
    AND regexp_matches(concat_ws(' ', action_text, problem_text), '(?i)\b(?:dup|same as|already)')
),
stated AS (
  SELECT call_id, source, reported_at, place,
    upper(regexp_replace(token, '[^A-Za-z0-9]', '', 'g')) AS number
  FROM said, unnest(regexp_extract_all(words, '[A-Za-z]{0,4}[\-.]?[0-9][0-9A-Za-z\-]{2,}')) WITH ORDINALITY AS t(token, place)
),
stated_keys AS (
  SELECT call_id, source, reported_at, place, number AS key FROM stated
  UNION
  SELECT call_id, source, reported_at, place, regexp_replace(number, '[^0-9]', '', 'g') FROM stated
),
numbers AS (
  SELECT call_id, source, upper(regexp_replace(call_number, '[^A-Za-z0-9]', '', 'g')) AS full_number
  FROM calls WHERE superseded_by IS NULL AND call_number IS NOT NULL
),
numbers_by_key AS (
  SELECT call_id, source, full_number AS key FROM numbers
  UNION
  SELECT n.call_id, n.source, right(n.full_number, l.length)
  FROM numbers n, (SELECT DISTINCT length(key) AS length FROM stated_keys WHERE length(key) >= 5) l
  WHERE length(n.full_number) > l.length
),
unique_keys AS (
  SELECT source, key, any_value(call_id) AS call_id FROM numbers_by_key GROUP BY source, key HAVING count(*) = 1
),
found AS (
  SELECT s.call_id, arg_min(u.call_id, (s.place, length(s.key) * -1)) AS repeats
  FROM stated_keys s JOIN unique_keys u ON u.source = s.source AND u.key = s.key AND u.call_id <> s.call_id
  GROUP BY s.call_id
)
SELECT f.call_id, f.repeats
FROM found f
JOIN calls mine ON mine.call_id = f.call_id
JOIN calls other ON other.call_id = f.repeats
LEFT JOIN found g ON g.call_id = f.repeats AND g.repeats = f.call_id
-- Two calls that each name the other: the later report is the duplicate.
WHERE g.call_id IS NULL OR (mine.reported_at, mine.call_id) > (other.reported_at, other.call_id)
