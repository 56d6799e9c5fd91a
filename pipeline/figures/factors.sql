-- The factors that a build reckoned with, years of one factor taken together, and the regions that have none.
, used AS (
  SELECT method, applies_to, edition, factor_year, value, unit, source, stands_in <> '' AS for_other_years,
         list(year ORDER BY year) AS years
  FROM factors_in_force
  GROUP BY ALL
  UNION ALL BY NAME
  SELECT DISTINCT 'location-based' AS method, grid_region AS applies_to, 'no factor is known for this region' AS source
  FROM sites
  WHERE grid_region IS NOT NULL
    AND grid_region NOT IN (SELECT applies_to FROM factors_in_force WHERE method = 'location-based')
)
SELECT
  method, applies_to, value, unit, factor_year, edition, source,
  CASE WHEN len(years) > 2 AND years[-1] - years[1] + 1 = len(years) THEN years[1] || ' to ' || years[-1]
       ELSE array_to_string(years, ', ') END
    || CASE WHEN for_other_years THEN ' (standing in)' ELSE '' END AS for_years
FROM used
ORDER BY ['location-based', 'market-based', 'grid losses'].list_position(method), applies_to, years[1]
