-- Lives with the inrush stress that they bear; draw 0 is the table of lives, the others what each draw adds and takes away.
, stressed AS (
  SELECT 0 AS draw, site_id, kind, switching, entry_days, exit_central_days, failed, quantity, inrush_stress,
         inrush_unverified, model
  FROM lives WHERE excluded_reason IS NULL
  UNION ALL BY NAME
  SELECT draw, site_id, kind, switching, entry_days, exit_central_days, failed, quantity, inrush_stress, model
  FROM life_draws
)
SELECT draw, entry_days, exit_central_days AS exit_days, failed, quantity, inrush_stress,
       coalesce(inrush_unverified, false) AS inrush_unverified, coalesce(model, 'model unknown') AS model
FROM stressed CROSS JOIN asked
WHERE exit_central_days > entry_days AND coalesce(inrush_stress > 0, true)
  AND (asked.sites IS NULL OR list_contains(asked.sites, site_id))
  AND (asked.kinds IS NULL OR list_contains(asked.kinds, kind))
  -- a device that closes at the zero crossing of the line hardly sees the peak that stress is reckoned from
  AND switching <> 'zero-cross'
ORDER BY ALL
