-- Working table: the calls that a person decided to be exterior lighting, or not. A decision on one call goes before one
-- on all calls that say the same.
CREATE OR REPLACE TEMP TABLE decided_lighting AS
SELECT c.call_id, d.row_number, d.value = 'yes' AS is_lighting, d.said, 1 AS level
FROM decided d JOIN calls c ON c.call_id = d.key
WHERE d.target = 'call' AND d.field = 'is_lighting' AND c.superseded_by IS NULL
UNION ALL
SELECT c.call_id, d.row_number, d.value = 'yes', d.said, 2
FROM decided d JOIN calls c ON {text_key} = d.key
WHERE d.kind = 'text' AND d.field = 'is_lighting' AND c.superseded_by IS NULL;

INSERT INTO decision_matches SELECT row_number, call_id, NULL FROM decided_lighting;

UPDATE calls SET is_lighting = d.is_lighting, lighting_evidence = d.said
FROM (FROM decided_lighting QUALIFY row_number() OVER (PARTITION BY call_id ORDER BY level) = 1) d
WHERE calls.call_id = d.call_id;
