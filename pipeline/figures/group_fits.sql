-- Fits of the build with its rates; a group may have a rate without a fit.
SELECT
  coalesce(f.group_name, r.group_name) AS group_name,
  f.* EXCLUDE (grouping, group_name),
  a.shape AS shape_as_read, a.shape_lower AS shape_lower_as_read, a.shape_upper AS shape_upper_as_read,
  a.b10_days AS b10_days_as_read, a.b10_days_lower AS b10_days_lower_as_read,
  a.b10_days_upper AS b10_days_upper_as_read, a.mean_life_days AS mean_life_days_as_read,
  a.mean_life_days_lower AS mean_life_days_lower_as_read, a.mean_life_days_upper AS mean_life_days_upper_as_read,
  r.failures AS failures_in_rate, r.control_years AS control_years_in_rate,
  r.failures_per_100_control_years,
  r.lower AS failures_per_100_control_years_lower, r.upper AS failures_per_100_control_years_upper
FROM life_fits f
LEFT JOIN life_fits_as_read a ON a.grouping = f.grouping AND a.group_name = f.group_name
FULL JOIN failure_rates r ON r.grouping = f.grouping AND r.group_name = f.group_name
WHERE coalesce(f.grouping, r.grouping) = $grouping
ORDER BY f.b10_days NULLS LAST, group_name
