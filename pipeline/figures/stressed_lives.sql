SELECT entry_days, exit_central_days AS exit_days, failed, quantity, inrush_stress,
       coalesce(inrush_unverified, false) AS inrush_unverified, coalesce(model, 'model unknown') AS model
FROM chosen_lives
WHERE excluded_reason IS NULL AND exit_central_days > entry_days AND coalesce(inrush_stress > 0, true)
  -- a device that closes at the zero crossing of the line hardly sees the peak that stress is reckoned from
  AND switching <> 'zero-cross'
ORDER BY ALL
