-- The central onset of day burning by the estimated delay before its report, within its bounds.
UPDATE incidents
SET onset_central = least(onset_low, greatest(onset_high, first_reported_at - to_seconds(d.delay_days * 86400)))
FROM estimated_delays d
WHERE d.day::DATE = incidents.first_reported_at::DATE AND incidents.symptom = 'day burning'
  AND NOT incidents.no_fault_found AND NOT list_contains(coalesce(incidents.flags, []), 'onset measured by a meter')
