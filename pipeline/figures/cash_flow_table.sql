SELECT f.option_id, o.site, o.kind AS control_kind, o.model, o.option, f.year, f.kind, f.amount AS cost
FROM cash_flows f
JOIN chosen_options o ON o.option_id = f.option_id
WHERE ($option_id::VARCHAR IS NULL OR f.option_id = $option_id)
ORDER BY o.site, o.kind, o.model, o.option, f.option_id, f.year, f.kind
