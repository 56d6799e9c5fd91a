SELECT
  i.failed_probability, i.controls AS units, i.control_failed,
  -- cases behind the odds of the rule that speaks: none where the verdict is certain, or a person's
  CASE WHEN i.failed_probability < 1 THEN r.cases_failed END AS cases_failed,
  CASE WHEN i.failed_probability < 1 THEN r.cases_not_failed END AS cases_not_failed
FROM chosen_incidents i
LEFT JOIN findings f ON f.finding_id = i.decisive_finding_id
LEFT JOIN verdict_rules r USING (rule)
WHERE i.failed_probability > 0
