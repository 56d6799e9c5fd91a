SELECT failed_probability, controls AS units, control_failed
FROM chosen_incidents
WHERE failed_probability > 0
