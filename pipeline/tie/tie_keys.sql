-- Working tables: the distinct combinations that are read once each, and which of them each call is.
CREATE OR REPLACE TEMP TABLE call_keys AS
SELECT
  c.call_id,
  dense_rank() OVER (
    -- alike texts stand together, so that each is looked at once
    ORDER BY c.action_text, c.problem_text, c.category_text, m.site_id, c.asset_text, c.address_text, c.work_type
  ) AS key_id
FROM tie_calls c JOIN call_sites m USING (call_id);

CREATE OR REPLACE TEMP TABLE tie_keys AS
SELECT k.key_id, min(m.site_id) AS site_id, min(c.asset_text) AS asset_text, min(c.address_text) AS address_text,
       min(c.problem_text) AS problem_text, min(c.action_text) AS action_text,
       min(c.category_text) AS category_text, min(c.work_type) AS work_type
FROM call_keys k
JOIN tie_calls c USING (call_id)
JOIN call_sites m USING (call_id)
GROUP BY k.key_id;
