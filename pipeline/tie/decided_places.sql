-- Working tables: the controls that a person named for a finding, or for what is written as an asset at a site.
CREATE OR REPLACE TEMP TABLE decided_assets AS
WITH assets AS (
  SELECT DISTINCT m.site_id, c.asset_text
  FROM tie_calls c JOIN call_sites m USING (call_id)
  WHERE trim(coalesce(c.asset_text, '')) <> ''
),
meant AS (
  SELECT a.site_id, a.asset_text, d.row_number, d.value AS control_id, d.said
  FROM decided d JOIN assets a ON {asset_key} = d.key
  WHERE d.kind = 'asset'
)
SELECT c.call_id, d.row_number, k.control_id, k.position, k.site_id, d.said
FROM meant d
JOIN tie_calls c ON c.asset_text = d.asset_text
JOIN call_sites m ON m.call_id = c.call_id AND m.site_id IS NOT DISTINCT FROM d.site_id
JOIN controls k ON k.control_id = d.control_id;

CREATE OR REPLACE TEMP TABLE decided_controls AS
SELECT d.key AS finding_id, d.row_number, k.control_id, k.position, k.site_id, d.said
FROM decided d JOIN controls k ON k.control_id = d.value
WHERE d.target = 'finding' AND d.field = 'control_id';
