-- Each incident's months added up as decimals, with the load at its onset.
SELECT s.*, l.connected_w, {sums}
FROM spans s
LEFT JOIN burn_months m USING (incident_id)
LEFT JOIN (
  SELECT
    incident_id,
    -- the first load on record from the onset on, else the last before it
    coalesce(arg_min(connected_w, begins) FILTER (ends > onset_central::DATE), arg_max(connected_w, begins)) AS connected_w
  FROM parts
  WHERE connected_w > 0
  GROUP BY incident_id
) l USING (incident_id)
GROUP BY ALL
ORDER BY incident_id
