-- One row per fault at one place, over all its calls.
WITH month_end_sites AS (
  -- Sites that close their orders in a batch at the end of the month: far more than 1 in 30 end there.
  SELECT m.site_id
  FROM calls c JOIN site_matches m ON m.site_text IS NOT DISTINCT FROM c.site_text
  WHERE c.completed_at IS NOT NULL AND c.superseded_by IS NULL AND m.site_id IS NOT NULL
  GROUP BY m.site_id
  HAVING count(*) >= 8 AND avg((c.completed_at::DATE = last_day(c.completed_at::DATE))::INTEGER) >= 0.25
),
same_stamps AS (
  SELECT site_text, completed_at
  FROM calls
  WHERE completed_at IS NOT NULL AND superseded_by IS NULL AND completed_at <> date_trunc('day', completed_at)
  GROUP BY ALL
  HAVING count(*) >= 3
),
closed_together AS (
  SELECT c.call_id
  FROM tie_calls c
  JOIN same_stamps s ON s.site_text IS NOT DISTINCT FROM c.site_text AND s.completed_at = c.completed_at
),
-- Narrow rows: what follows sorts and groups them many times over.
members AS (
  SELECT
    f.finding_id, f.incident_id, f.call_id, f.part_number, f.site_id, f.position, f.control_id, f.member, f.family,
    f.symptom, f.component, f.action, f.cause, f.units, f.weight, f.probability, f.failure_mode, f.share_of_lamps,
    f.burning_shift_h, f.dark_shift_h, f.burning_edge, f.tested_dark, f.reported_at, f.completed_at, f.end_undated, f.many_controls,
    f.many_lamps, f.says_work AND f.completed_at IS NOT NULL OR f.says_problem AS says_something,
    coalesce(coalesce(f.completed_at, b.log_to) - f.reported_at > to_days(stale_after_days::INTEGER), false) AS stale,
    coalesce(e.site_id IS NOT NULL AND f.completed_at::DATE = last_day(f.completed_at::DATE), false) AS closed_at_month_end,
    t.call_id IS NOT NULL AS closed_with_others
  FROM judged_members f
  CROSS JOIN (SELECT max(log_to)::TIMESTAMP AS log_to FROM build_info) b
  CROSS JOIN tie_settings
  LEFT JOIN month_end_sites e ON e.site_id = f.site_id
  LEFT JOIN closed_together t ON t.call_id = f.call_id
),
doubtful AS (
  SELECT *, closed_at_month_end OR closed_with_others AS batch_closed,
         stale OR closed_at_month_end OR closed_with_others OR end_undated AS stamp_is_doubtful
  FROM members
),
-- The mean time from report to repair, where the stamp can be trusted: what a doubtful order most likely took.
usual AS (
  SELECT coalesce(avg(date_diff('second', reported_at, completed_at)), 7 * 86400) AS repair_seconds
  FROM doubtful
  WHERE NOT stamp_is_doubtful AND completed_at IS NOT NULL AND weight >= 4
),
worked AS (
  -- The day written in the text, if the order was open on it. Where several days fit (12/5 may be May or December), the
  -- first is the earliest end, and which one it was is not guessed.
  SELECT d.finding_id, min(t.day) AS day, count(DISTINCT t.day) = 1 AS only_day
  FROM doubtful d JOIN tie_calls c USING (call_id) JOIN text_dates t USING (action_text)
  WHERE t.day BETWEEN d.reported_at::DATE AND coalesce(d.completed_at::DATE, t.day)
  GROUP BY d.finding_id
),
-- Between which times the work was done, where the stamp alone does not say. A site that closes its orders at
-- the end of each month would have closed this one earlier, had the work been done before the last such day.
spans AS (
  SELECT
    d.*, w.day AS worked_on, coalesce(w.only_day, false) AS day_is_certain,
    CASE WHEN d.end_undated
         THEN least(d.reported_at + to_days(a.stale_after_days::INTEGER),
                    coalesce(greatest(d.reported_at, b.log_to + INTERVAL 1 DAY), 'infinity'))
         ELSE d.completed_at END AS done_high,
    CASE WHEN d.closed_at_month_end
         THEN greatest(d.reported_at, date_trunc('month', d.completed_at)::TIMESTAMP) ELSE d.reported_at END AS span_from
  FROM doubtful d LEFT JOIN worked w USING (finding_id) CROSS JOIN tie_settings a
  CROSS JOIN (SELECT max(log_to)::TIMESTAMP AS log_to FROM build_info) b
),
visits AS (
  SELECT
    s.*,
    CASE WHEN s.completed_at IS NULL THEN NULL
         WHEN worked_on IS NOT NULL THEN greatest(s.reported_at, least(done_high, worked_on::TIMESTAMP))
         WHEN stamp_is_doubtful THEN span_from
         ELSE done_high END AS done_low,
    CASE WHEN s.completed_at IS NULL THEN NULL
         WHEN day_is_certain THEN greatest(s.reported_at, least(done_high, worked_on + INTERVAL 12 HOUR))
         WHEN stamp_is_doubtful
           THEN greatest(done_low, span_from + to_seconds(least(repair_seconds, epoch(done_high - span_from) / 2)))
         ELSE done_high END AS done_central
  FROM spans s CROSS JOIN usual
),
decisive AS (
  SELECT *
  FROM visits
  QUALIFY row_number() OVER (
    PARTITION BY incident_id ORDER BY weight DESC, done_central DESC NULLS LAST, reported_at DESC, part_number) = 1
),
told AS (
  SELECT incident_id, arg_min(symptom, (reported_at, finding_id)) AS symptom
  FROM visits WHERE symptom <> 'unknown' GROUP BY incident_id
),
-- What the first report of the symptom that says so gave as the share of the lamps, and the first report of a shift.
extents AS (
  SELECT
    v.incident_id,
    arg_min(v.share_of_lamps, (v.reported_at, v.finding_id)) FILTER (v.share_of_lamps IS NOT NULL) AS share_of_lamps,
    arg_min({'burning_h': v.burning_shift_h, 'dark_h': v.dark_shift_h, 'edge': nullif(v.burning_edge, '')},
            (v.reported_at, v.finding_id))
      FILTER (coalesce(v.burning_shift_h, v.dark_shift_h) IS NOT NULL) AS shift
  FROM visits v JOIN told t USING (incident_id)
  WHERE v.symptom = t.symptom
  GROUP BY v.incident_id
),
-- The last visit that ended it: work if any was done, else any visit that was not a mere duplicate.
last_visit AS (
  SELECT *
  FROM visits
  WHERE completed_at IS NOT NULL
  QUALIFY row_number() OVER (
    PARTITION BY incident_id ORDER BY (weight >= 4) DESC, (weight > 0) DESC, done_central DESC, finding_id) = 1
),
gathered AS (
  SELECT
    v.incident_id,
    min(v.reported_at) AS first_reported_at,
    count(DISTINCT v.call_id) AS calls,
    min(v.completed_at) FILTER (v.weight > 0) AS first_done,
    max(v.weight) AS weight,
    bool_or(v.action = 'none found') AS nothing_found,
    arg_max(v.cause, (coalesce(v.completed_at, v.reported_at), v.finding_id)) FILTER (v.cause <> '') AS any_cause,
    max(v.reported_at) FILTER (v.completed_at IS NULL AND v.weight > 0) AS last_open_report,
    greatest(max(v.reported_at), max(v.completed_at)) AS last_evidence_at,
    arg_max(v.call_id, (coalesce(v.completed_at, v.reported_at), v.finding_id)) FILTER (v.says_something)
      AS last_said_in,
    arg_min(v.site_id, (v.reported_at, v.finding_id)) AS any_site,
    arg_min(v.position, (v.reported_at, v.finding_id)) AS any_position,
    arg_min(v.control_id, (v.reported_at, v.finding_id)) AS any_control,
    arg_min(v.family, (v.reported_at, v.finding_id)) AS family,
    arg_min(v.member, (v.reported_at, v.finding_id)) AS member,
    list_filter([
      CASE WHEN bool_or(v.stale) THEN 'stale order' END,
      CASE WHEN bool_or(v.batch_closed) THEN 'batch closed' END,
      CASE WHEN bool_or(v.end_undated) THEN 'completed without a usable date' END,
      CASE WHEN max(v.weight) = 0 THEN 'only duplicates' END
    ], lambda flag: flag IS NOT NULL) AS flags
  FROM visits v
  GROUP BY v.incident_id
),
returns AS (
  SELECT v.incident_id, count(DISTINCT v.call_id) AS callbacks
  FROM visits v JOIN gathered g USING (incident_id)
  WHERE v.reported_at > g.first_done AND v.weight > 0 AND v.completed_at IS NOT NULL
  GROUP BY v.incident_id
),
as_told AS (
  SELECT
    g.*, coalesce(d.site_id, g.any_site) AS site_id, coalesce(d.position, g.any_position) AS position,
    d.component, d.action, d.cause AS decisive_cause, coalesce(j.probability, d.probability) AS probability, d.failure_mode,
    d.finding_id AS decisive_finding_id,
    d.units, d.control_id, x.share_of_lamps,
    x.shift.burning_h AS burning_shift_h, x.shift.dark_h AS dark_shift_h, x.shift.edge AS burning_edge,
    coalesce(t.symptom, 'unknown') AS symptom, coalesce(r.callbacks, 0) AS callbacks,
    coalesce(g.nothing_found AND g.weight <= 2, false) AS no_fault_found,
    l.done_low, l.done_central, l.done_high,
    l.incident_id IS NULL OR coalesce(g.last_open_report > l.done_central, false) AS is_open
  FROM gathered g
  JOIN decisive d USING (incident_id)
  LEFT JOIN judged_incidents j USING (incident_id)
  LEFT JOIN told t USING (incident_id)
  LEFT JOIN extents x USING (incident_id)
  LEFT JOIN last_visit l USING (incident_id)
  LEFT JOIN returns r USING (incident_id)
),
-- An order left open does not burn on past a later repair of the same kind of fault at its place: between its last
-- evidence and that repair somebody mended it without closing it.
later_work AS (
  SELECT e.incident_id, min(v.done_high) AS mended_by
  FROM as_told e
  JOIN visits v ON v.position = e.position AND v.family = e.family AND v.member = e.member
    AND v.incident_id <> e.incident_id AND v.weight >= 4 AND NOT v.many_controls
    -- of many lamps behind one control another may have been the dark one; they all burn by day together
    AND (v.family = 'on' OR NOT v.many_lamps)
    AND v.done_high > e.last_evidence_at
  WHERE e.is_open
  GROUP BY e.incident_id
),
ended AS (
  SELECT
    e.* REPLACE (
      CASE WHEN w.mended_by IS NULL THEN e.done_low ELSE e.last_evidence_at END AS done_low,
      CASE WHEN w.mended_by IS NULL THEN e.done_central ELSE e.last_evidence_at
        + to_seconds(least(u.repair_seconds, epoch(w.mended_by - e.last_evidence_at) / 2)) END AS done_central,
      coalesce(w.mended_by, e.done_high) AS done_high,
      e.is_open AND w.mended_by IS NULL AS is_open,
      CASE WHEN w.mended_by IS NULL THEN e.flags ELSE list_append(e.flags, 'ended by a later visit') END AS flags
    )
  FROM as_told e LEFT JOIN later_work w USING (incident_id) CROSS JOIN usual u
),
-- When somebody was last at the place who could have seen it: by day for lamps that burn, by night or with the eye
-- covered for dark ones (a stamp without a time of day is a day's work), and any repair of the same kind of fault. A visit to
-- one piece of a batch, or to one of many lamps, says nothing of the others; nor does a round of the whole site.
sightings AS (
  SELECT
    position, completed_at AS seen_at, incident_id, family, member, many_lamps, many_controls,
    hour(completed_at) BETWEEN 8 AND 16 OR completed_at = date_trunc('day', completed_at) AS by_day,
    tested_dark OR hour(completed_at) >= 21 OR hour(completed_at) BETWEEN 1 AND 4 AS by_night
  FROM visits
  WHERE completed_at IS NOT NULL AND NOT stamp_is_doubtful AND position IS NOT NULL
),
seen AS (
  SELECT e.incident_id, max(v.seen_at) AS seen_good_at
  FROM ended e
  JOIN sightings v ON v.position = e.position AND v.incident_id <> e.incident_id
    AND v.seen_at < e.first_reported_at AND v.seen_at >= e.first_reported_at - INTERVAL 400 DAY
  WHERE NOT v.many_controls AND v.member = e.member
    AND CASE WHEN e.family = 'on' THEN v.by_day ELSE v.by_night OR (v.family = e.family AND NOT v.many_lamps) END
  GROUP BY e.incident_id
),
begun AS (
  SELECT
    e.*, coalesce(d.delay_days, s.detection_delay_days) AS detection_delay_days, s.control_failed_threshold,
    coalesce(e.control_id, e.any_control) AS tied_control_id,
    -- A row installed after the report is the successor of the control that failed: it bounds nothing.
    CASE WHEN e.no_fault_found THEN e.first_reported_at
         ELSE least(e.first_reported_at, greatest(
           e.first_reported_at - to_days(s.onset_cap_days::INTEGER), n.seen_good_at,
           CASE WHEN c.installed_on < e.first_reported_at THEN c.installed_on::TIMESTAMP END)) END AS onset_high,
    c.quantity
  FROM ended e CROSS JOIN tie_settings s
  LEFT JOIN usual_delays d ON d.day = e.first_reported_at::DATE
  LEFT JOIN seen n USING (incident_id)
  LEFT JOIN controls c ON c.control_id = coalesce(e.control_id, e.any_control)
)
SELECT
  incident_id, decisive_finding_id, site_id, tied_control_id AS control_id, position, symptom, component, action,
  CASE WHEN probability >= control_failed_threshold THEN failure_mode END AS failure_mode,
  probability AS failed_probability,
  probability >= control_failed_threshold AS control_failed,
  coalesce(nullif(decisive_cause, ''), any_cause) AS cause,
  CASE WHEN component = 'control' AND quantity IS NOT NULL THEN least(units, quantity) ELSE units END AS units,
  share_of_lamps, burning_shift_h, dark_shift_h, burning_edge,
  first_reported_at,
  first_reported_at AS onset_low,
  greatest(onset_high, first_reported_at - to_seconds(detection_delay_days * 86400)) AS onset_central,
  onset_high,
  CASE WHEN NOT is_open THEN
    CASE WHEN no_fault_found THEN first_reported_at ELSE greatest(done_low, first_reported_at) END END AS restored_low,
  CASE WHEN NOT is_open THEN
    CASE WHEN no_fault_found THEN first_reported_at ELSE greatest(done_central, first_reported_at) END END AS restored_central,
  CASE WHEN NOT is_open THEN greatest(done_high, first_reported_at) END AS restored_high,
  is_open, last_evidence_at,
  left(coalesce(CASE WHEN said.completed_at IS NOT NULL THEN nullif(trim(said.action_text), '') END, said.problem_text), 300)
    AS last_evidence,
  calls, callbacks, no_fault_found, flags
FROM begun LEFT JOIN tie_calls said ON said.call_id = begun.last_said_in
