SELECT *
FROM chosen_options
ORDER BY max(net_savings) OVER (PARTITION BY site_id, kind, model) DESC NULLS LAST, site, kind, model, option
