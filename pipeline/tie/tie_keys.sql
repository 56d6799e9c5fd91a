-- Working tables: the distinct combinations that are read once each, and which of them each call is.
CREATE OR REPLACE TEMP TABLE call_keys AS
SELECT
  c.call_id,
  -- Alike texts stand together, so that each is looked at once. Digests, for sorting by long texts takes far longer.
  dense_rank() OVER (
    ORDER BY md5_number(c.action_text), md5_number(c.problem_text), c.category_text,
             m.site_id, c.asset_text, c.address_text, c.work_type
  ) AS key_id
FROM tie_calls c JOIN call_sites m USING (call_id);

CREATE OR REPLACE TEMP TABLE tie_keys AS
SELECT k.key_id, m.site_id, c.asset_text, c.address_text, c.problem_text, c.action_text, c.category_text, c.work_type
FROM (SELECT key_id, min(call_id) AS call_id FROM call_keys GROUP BY key_id) k
JOIN tie_calls c USING (call_id)
JOIN call_sites m USING (call_id)
ORDER BY k.key_id;
