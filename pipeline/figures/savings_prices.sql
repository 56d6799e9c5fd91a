SELECT
  tariff, count(DISTINCT site_id) AS sites, min(price_per_kwh) AS price_per_kwh_least, max(price_per_kwh) AS price_per_kwh_most,
  count(DISTINCT site_id) FILTER (price_per_kwh IS NULL) AS sites_without_price
FROM waste_prices, asked
WHERE asked.sites IS NULL OR list_contains(asked.sites, site_id)
GROUP BY tariff
ORDER BY tariff
