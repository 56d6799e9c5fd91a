-- Working tables: the verdict on each finding and incident. A decision on the finding goes before one on its incident,
-- that before one on all calls that say the same, that before one on all findings of a rule; without any, the rule
-- speaks, with its prior and what decided cases made of it.
CREATE OR REPLACE TEMP TABLE verdict_matches AS
WITH decisions_of_text AS (
  -- a call of several faults has no one answer: those are decided one by one
  SELECT m.finding_id, d.*
  FROM decided d JOIN tie_calls c ON {text_key} = d.key JOIN incident_members m USING (call_id)
  WHERE d.kind = 'text' AND d.field = 'control_failed'
  QUALIFY count(*) OVER (PARTITION BY m.call_id) = 1
),
matched AS (
  SELECT m.finding_id, d.*, 1 AS level
  FROM decided d JOIN incident_members m ON m.finding_id = d.key
  WHERE d.target = 'finding' AND d.field = 'control_failed'
  UNION ALL
  -- an incident is named by the finding that was its first, wherever that one belongs now
  SELECT m.finding_id, d.*, 2
  FROM decided d
  JOIN incident_members f ON f.finding_id = d.key
  JOIN incident_members m ON m.incident_id = f.incident_id
  WHERE d.target = 'incident' AND d.field = 'control_failed'
  UNION ALL
  SELECT *, 3 FROM decisions_of_text
  UNION ALL
  SELECT m.finding_id, d.*, 4
  FROM decided d JOIN incident_members m ON {rule_key} = d.key
  WHERE d.kind = 'rule' AND d.field = 'control_failed'
)
SELECT d.finding_id, d.row_number, d.value = 'yes' AS failed, d.said, d.level, m.call_id, m.incident_id, m.rule,
       m.weight, m.reported_at
FROM matched d JOIN incident_members m USING (finding_id);

INSERT INTO decision_matches SELECT row_number, call_id, finding_id FROM verdict_matches;

CREATE OR REPLACE TEMP TABLE finding_verdicts AS
FROM verdict_matches
QUALIFY row_number() OVER (PARTITION BY finding_id ORDER BY level, row_number DESC) = 1;

-- A decision is one case of a rule, however many findings it reaches; one on an incident, of the rule that spoke for
-- its heaviest finding. A decision on a rule itself is no evidence about it.
INSERT INTO decided_cases BY NAME
SELECT DISTINCT v.row_number, v.rule, v.failed, r.prior_probability
FROM (
  FROM finding_verdicts
  WHERE level <= 3
  QUALIFY level <> 2 OR row_number() OVER (PARTITION BY row_number ORDER BY weight DESC, reported_at DESC, finding_id) = 1
) v
JOIN rules_in_force r USING (rule);

INSERT INTO verdict_rules BY NAME
WITH cases AS (
  SELECT rule, count(*) FILTER (failed) AS decided_yes, count(*) FILTER (NOT failed) AS decided_no
  FROM decided_cases GROUP BY rule
),
spoken AS (
  SELECT m.rule, count(*) AS findings
  FROM incident_members m ANTI JOIN finding_verdicts v USING (finding_id) GROUP BY m.rule
)
SELECT
  r.rule, r.place, r.origin, r.prior_probability, s.verdict_prior_cases AS prior_cases,
  coalesce(c.decided_yes, 0) AS decided_yes, coalesce(c.decided_no, 0) AS decided_no,
  s.verdict_prior_cases * r.prior_probability + coalesce(c.decided_yes, 0) AS cases_failed,
  s.verdict_prior_cases * (1 - r.prior_probability) + coalesce(c.decided_no, 0) AS cases_not_failed,
  -- the mean of a Beta(cases_failed, cases_not_failed); without decided cases to the digit what the table says
  CASE WHEN c.rule IS NULL THEN r.prior_probability ELSE cases_failed / (cases_failed + cases_not_failed) END AS probability,
  coalesce(p.findings, 0) AS findings
FROM rules_in_force r CROSS JOIN tie_settings s LEFT JOIN cases c USING (rule) LEFT JOIN spoken p USING (rule);

CREATE OR REPLACE TEMP TABLE judged_members AS
SELECT
  m.* REPLACE (
    CASE WHEN v.finding_id IS NOT NULL THEN v.failed::INTEGER::DOUBLE ELSE r.probability END AS probability
  ),
  CASE
    WHEN v.finding_id IS NOT NULL THEN ' (verdict ' || v.said || ')'
    WHEN r.decided_yes + r.decided_no > 0 THEN
      ' (' || round(r.prior_probability, 2) || ' by the table, ' || round(r.probability, 2) || ' with '
      || (r.decided_yes + r.decided_no) || ' decided)'
    ELSE '' END AS verdict_said
FROM incident_members m
JOIN verdict_rules r USING (rule)
LEFT JOIN finding_verdicts v USING (finding_id);

CREATE OR REPLACE TEMP TABLE judged_incidents AS
SELECT incident_id, arg_max(failed, (-level, row_number))::INTEGER::DOUBLE AS probability
FROM verdict_matches
WHERE level <= 2
GROUP BY incident_id;
