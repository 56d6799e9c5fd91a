SELECT b.left_out_reason, count(*) AS incidents
FROM burn_episodes b
JOIN chosen_incidents i ON i.incident_id = b.incident_id
WHERE b.left_out_reason IS NOT NULL
GROUP BY b.left_out_reason
ORDER BY incidents DESC, b.left_out_reason
