-- Mean hours lit by day that one failure of a kind of control has cost, failures that left lamps dark included. Hours
-- are an incident's, so each counts for every control that failed in it; what could not be reckoned says nothing, and
-- hours in which no load is on record waste no energy that anybody knows of.
SELECT
  c.kind,
  sum(((coalesce(e.excess_hours_central, 0) - coalesce(e.hours_without_load_central, 0)) * i.units)::DECIMAL(18, 6))::DOUBLE / sum(i.units) AS hours_per_failure
FROM incidents i
JOIN controls c USING (control_id)
LEFT JOIN burn_episodes e USING (incident_id)
WHERE i.control_failed AND c.kind IS NOT NULL AND e.left_out_reason IS NULL
GROUP BY c.kind
