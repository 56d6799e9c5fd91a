-- Working table: the calls that are read. A call without any date cannot be placed in time.
UPDATE calls SET no_finding_reason = 'no date'
WHERE is_lighting AND superseded_by IS NULL AND no_finding_reason IS NULL
  AND reported_at IS NULL AND completed_at IS NULL;

CREATE OR REPLACE TEMP TABLE tie_calls AS
SELECT
  call_id, call_number, site_text, asset_text, address_text, latitude, longitude,
  problem_text, action_text, category_text, work_type, duplicate_of,
  coalesce(reported_at, completed_at) AS reported_at,
  -- A completion before the report is no evidence of when the work was done.
  CASE WHEN status = 'open' THEN NULL ELSE greatest(completed_at, coalesce(reported_at, completed_at)) END AS completed_at,
  coalesce(completed_at < reported_at, false) AS completed_before_reported,
  status
FROM calls
WHERE superseded_by IS NULL AND is_lighting AND no_finding_reason IS NULL;
