, doubtful AS (
  SELECT
    i.incident_id, i.site, i.position, i.calls, i.controls, i.failed_probability,
    i.controls * least(i.failed_probability, 1 - i.failed_probability) AS at_stake,
    f.symptom, f.component, f.action, f.rule, c.problem_text, c.action_text, s.name AS source_file, c.row_number,
    f.evidence,
    (SELECT count(*) FROM findings g WHERE g.call_id = f.call_id) AS findings_of_call
  FROM chosen_incidents i
  JOIN findings f ON f.finding_id = i.decisive_finding_id
  JOIN calls c ON c.call_id = f.call_id
  JOIN source_files s ON s.file_id = c.file_id
  WHERE i.failed_probability > 0 AND i.failed_probability < 1 AND f.rule IS NOT NULL
),
keyed AS (
  SELECT *, CASE $by WHEN 'rule' THEN {rule_key} WHEN 'text' THEN {text_key} ELSE incident_id END AS key
  FROM doubtful
  -- a text that tells of several faults has no one answer
  WHERE $by <> 'text' OR findings_of_call = 1
)
SELECT
  CASE WHEN $by = 'incident' THEN 'incident' ELSE 'pattern' END AS target, key,
  arg_max(symptom, at_stake) AS symptom, arg_max(component, at_stake) AS component, arg_max(action, at_stake) AS action,
  arg_max(rule, at_stake) AS rule,
  arg_max(problem_text, (at_stake, incident_id)) AS problem_text,
  arg_max(coalesce(action_text, ''), (at_stake, incident_id)) AS action_text,
  arg_max(site, (at_stake, incident_id)) AS site, arg_max(position, (at_stake, incident_id)) AS position,
  count(*) AS incidents, sum(calls)::BIGINT AS calls, sum(controls)::BIGINT AS controls,
  sum(controls * failed_probability) / sum(controls) AS failed_probability,
  sum(at_stake) AS failures_at_stake,
  arg_max(source_file, (at_stake, incident_id)) AS source_file,
  arg_max(row_number, (at_stake, incident_id)) AS row_number,
  arg_max(evidence, (at_stake, incident_id)) AS evidence,
  list(incident_id ORDER BY at_stake DESC, incident_id)[1:$most_examples] AS examples
FROM keyed
GROUP BY key
ORDER BY failures_at_stake DESC, key
LIMIT $most_lines
