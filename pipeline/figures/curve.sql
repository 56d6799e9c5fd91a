SELECT v.age_days, v.at_risk, v.failures, v.survival, v.lower, v.upper
FROM life_curves v
WHERE v.grouping = $grouping AND v.group_name = $group
ORDER BY v.age_days
