-- What the calls say of each stretch on a meter. Nobody could call in what ended before the log or began after it.
UPDATE meter_episodes
SET found = CASE
  WHEN EXISTS (FROM meter_matches m WHERE m.episode_id = meter_episodes.episode_id) THEN 'both'
  WHEN ended_central < (SELECT log_from FROM build_info)::TIMESTAMP
    OR onset_central > (SELECT log_to FROM build_info)::TIMESTAMP + INTERVAL 1 DAY THEN 'outside the log'
  ELSE 'never called in'
END
