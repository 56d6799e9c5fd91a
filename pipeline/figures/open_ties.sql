, open_incidents AS (
  SELECT
    i.incident_id, i.site_id, i.site, i.controls * i.failed_probability AS failures, i.calls, f.finding_id, f.call_id,
    f.evidence, c.site_text, c.asset_text, c.problem_text, c.action_text, s.name AS source_file, c.row_number,
    CASE WHEN i.symptom = 'day burning' THEN $daylight_hours_per_day * greatest(0, epoch(
      coalesce(i.restored_central, least(log.log_to + INTERVAL 1 DAY,
                                         i.first_reported_at + to_days($stale_after_days::INTEGER)))
      - i.onset_central) / 86400) ELSE 0 END AS day_burning_hours
  FROM chosen_incidents i
  JOIN findings f ON f.finding_id = i.decisive_finding_id
  JOIN calls c ON c.call_id = f.call_id
  JOIN source_files s ON s.file_id = c.file_id
  CROSS JOIN log
  WHERE (i.site_id IS NULL AND EXISTS (FROM sites)) OR (i.control_id IS NULL AND EXISTS (FROM controls))
),
-- What one answer settles: all that write the same for a site, or for an asset of a site; else this one.
keyed AS (
  SELECT
    *,
    CASE WHEN site_id IS NULL AND trim(coalesce(site_text, '')) <> '' THEN 'site text'
         WHEN site_id IS NULL THEN 'call'
         WHEN trim(coalesce(asset_text, '')) <> '' THEN 'asset'
         ELSE 'finding' END AS kind
  FROM open_incidents
)
SELECT
  CASE WHEN kind IN ('site text', 'asset') THEN 'pattern' ELSE kind END AS target,
  CASE kind WHEN 'site text' THEN {site_text_key} WHEN 'call' THEN call_id
            WHEN 'asset' THEN {asset_key} ELSE finding_id END AS key,
  kind,
  CASE WHEN kind IN ('site text', 'call') THEN 'site_id' ELSE 'control_id' END AS field,
  any_value(site_id) AS site_id, any_value(site) AS site,
  arg_max(CASE kind WHEN 'site text' THEN trim(site_text) WHEN 'asset' THEN trim(asset_text)
                    ELSE coalesce(problem_text, action_text, '') END, (failures, incident_id)) AS written,
  count(*) AS incidents, sum(calls)::BIGINT AS calls,
  sum(failures) AS failures_left_out, sum(day_burning_hours) AS day_burning_hours_left_out,
  arg_max(source_file, (failures, incident_id)) AS source_file,
  arg_max(row_number, (failures, incident_id)) AS row_number,
  arg_max(evidence, (failures, incident_id)) AS evidence,
  list(incident_id ORDER BY failures DESC, incident_id)[1:$most_examples] AS examples
FROM keyed
GROUP BY ALL
ORDER BY failures_left_out DESC, day_burning_hours_left_out DESC, key
