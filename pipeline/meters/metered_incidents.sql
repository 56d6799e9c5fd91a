-- Incidents of day burning whose lamps an account with readings pays: the account of most of the load behind the
-- control on the day of the report, else the site's. Whether readings stand around the report, and the least load that
-- an incident of this length must have to be seen.
WITH burning AS (
  SELECT *, coalesce(restored_central, (SELECT log_to FROM build_info)::TIMESTAMP + INTERVAL 1 DAY) AS until
  FROM incidents WHERE symptom = 'day burning' AND NOT no_fault_found
),
lamps AS (
  SELECT
    b.incident_id, l.account_id,
    sum(l.connected_w * least(b.units, l.shared_by))::DOUBLE AS connected_w
  FROM burning b
  JOIN control_loads l ON l.control_id = b.control_id
    AND l.begins <= b.first_reported_at::DATE AND l.ends > b.first_reported_at::DATE
  GROUP BY ALL
),
paid AS (
  SELECT incident_id, arg_max(account_id, (coalesce(connected_w, 0), account_id)) AS account_id, max(connected_w) AS connected_w
  FROM lamps WHERE account_id IS NOT NULL GROUP BY incident_id
),
placed AS (
  SELECT b.*, coalesce(p.account_id, s.account_id) AS account_id, p.connected_w * coalesce(b.share_of_lamps, 1) / 1000 AS connected_kw
  FROM burning b LEFT JOIN paid p USING (incident_id) LEFT JOIN sites s USING (site_id)
)
SELECT
  p.incident_id, p.account_id, p.connected_kw, p.first_reported_at, p.until AS ended_at,
  a.refused IS NOT NULL AS refused,
  EXISTS (
    FROM meter_days d WHERE d.account_id = p.account_id AND d.day_kw IS NOT NULL
      AND d.day BETWEEN p.first_reported_at::DATE - 3 AND p.first_reported_at::DATE + 3
  ) AS has_readings,
  coalesce(epoch(p.until - p.onset_central) / 86400 < $least_days
    OR p.connected_kw < greatest($least_kw, a.least_step_kw * sqrt(7 * 86400 / greatest(epoch(p.until - p.onset_central), 86400))),
    false) AS too_small
FROM placed p
JOIN meter_accounts a USING (account_id)
ORDER BY p.incident_id
