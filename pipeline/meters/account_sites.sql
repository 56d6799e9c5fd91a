-- Which sites' lighting each account pays: by fixtures that name it, else by the site's own account.
CREATE OR REPLACE TEMP VIEW account_sites AS
SELECT DISTINCT account_id, site_id
FROM (
  SELECT f.account_id, c.site_id FROM fixtures f JOIN controls c USING (control_id) WHERE f.account_id IS NOT NULL
  UNION ALL
  SELECT account_id, site_id FROM sites WHERE account_id IS NOT NULL
)
