SELECT failed_probability, units, control_failed
FROM chosen_incidents
WHERE failed_probability > 0
