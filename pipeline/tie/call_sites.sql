-- Working table: the site of each call that is read. A person's decision on the call goes before one on what is
-- written for the site, and both before what the names say.
CREATE OR REPLACE TEMP TABLE decided_site_texts AS
SELECT m.site_text, d.row_number, s.site_id, d.said
FROM decided d
JOIN site_matches m ON {site_text_key} = d.key
JOIN sites s ON s.site_id = d.value
WHERE d.kind = 'site text';

CREATE OR REPLACE TEMP TABLE decided_call_sites AS
SELECT c.call_id, d.row_number, s.site_id, d.said
FROM decided d
JOIN tie_calls c ON c.call_id = d.key
JOIN sites s ON s.site_id = d.value
WHERE d.target = 'call' AND d.field = 'site_id';

INSERT INTO decision_matches
SELECT row_number, call_id, NULL FROM decided_call_sites
UNION ALL
SELECT d.row_number, c.call_id, NULL FROM decided_site_texts d JOIN tie_calls c USING (site_text);

UPDATE site_matches SET site_id = d.site_id, site_match = 'decided', said = d.said
FROM decided_site_texts d
WHERE site_matches.site_text = d.site_text;

CREATE OR REPLACE TEMP TABLE call_sites AS
SELECT
  c.call_id,
  coalesce(d.site_id, m.site_id) AS site_id,
  CASE WHEN d.site_id IS NOT NULL THEN 'decided' ELSE m.site_match END AS site_match,
  coalesce(d.said, m.said) AS said
FROM tie_calls c
JOIN site_matches m ON m.site_text IS NOT DISTINCT FROM c.site_text
LEFT JOIN decided_call_sites d USING (call_id);
