-- Measured onsets and ends replace those that the calls leave open. Where the readings begin or end while it burns, they
-- still bound it: it burnt at their first or last hour.
UPDATE incidents i
SET
  onset_low = CASE WHEN e.begins_before_data THEN least(i.onset_low, e.onset_low) ELSE e.onset_low END,
  onset_central = CASE WHEN e.begins_before_data THEN least(i.onset_central, e.onset_low) ELSE e.onset_central END,
  onset_high = CASE WHEN e.begins_before_data THEN least(i.onset_high, e.onset_low) ELSE e.onset_high END,
  -- an incident that the calls leave open stays open while the meter does not show its end
  restored_low = CASE WHEN NOT e.is_open THEN e.ended_low WHEN NOT i.is_open THEN greatest(i.restored_low, e.ended_low) END,
  restored_central = CASE WHEN NOT e.is_open THEN e.ended_central
                          WHEN NOT i.is_open THEN greatest(i.restored_central, e.ended_low) END,
  restored_high = CASE WHEN NOT e.is_open THEN e.ended_high WHEN NOT i.is_open THEN greatest(i.restored_high, e.ended_low) END,
  is_open = i.is_open AND e.is_open,
  flags = list_concat(coalesce(i.flags, []), list_filter([
    CASE WHEN m.onset_measured THEN 'onset measured by a meter' END,
    CASE WHEN m.end_measured THEN 'end measured by a meter' END
  ], lambda flag: flag IS NOT NULL))
FROM meter_matches m JOIN meter_episodes e USING (episode_id)
WHERE m.incident_id = i.incident_id
