-- Working table: the calls that are read. A call without any date, or reported outside the log, has no place in time.
UPDATE calls
SET no_finding_reason = CASE WHEN list_contains(flags, 'outside the log') THEN 'outside the log' ELSE 'no date' END
WHERE is_lighting AND superseded_by IS NULL AND no_finding_reason IS NULL
  AND ((reported_at IS NULL AND completed_at IS NULL) OR coalesce(list_contains(flags, 'outside the log'), false));

CREATE OR REPLACE TEMP TABLE tie_calls AS
SELECT
  call_id, call_number, site_text, asset_text, address_text,
  -- A default coordinate is where the system puts what it has not found: no place.
  CASE WHEN NOT coalesce(list_contains(flags, 'default coordinate'), false) THEN latitude END AS latitude,
  CASE WHEN NOT coalesce(list_contains(flags, 'default coordinate'), false) THEN longitude END AS longitude,
  problem_text, action_text, category_text, work_type, duplicate_of, part_of,
  -- Whether its texts say anything: what follows keeps to narrow rows, and fetches texts only where they are shown.
  coalesce(trim(action_text), '') <> '' AS says_work, problem_text IS NOT NULL AS says_problem,
  coalesce(reported_at, completed_at) AS reported_at,
  -- A completed call without a usable date ended some time after its report: the report stands for it as the earliest
  -- end, and end_undated says that it is no more than that. Without a date, only the word 'completed' ends a call.
  CASE
    WHEN status = 'open' THEN NULL
    WHEN completed_at IS NOT NULL THEN greatest(completed_at, coalesce(reported_at, completed_at))
    WHEN status = 'completed' THEN reported_at
  END AS completed_at,
  status = 'completed' AND completed_at IS NULL OR coalesce(completed_at < reported_at, false) AS end_undated,
  status
FROM calls
WHERE superseded_by IS NULL AND is_lighting AND no_finding_reason IS NULL;
