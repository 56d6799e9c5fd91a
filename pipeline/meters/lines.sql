-- Every line of a meter file below its header, split into its cells, with its row in the file. A line is read as one
-- text, so that no line can be lost for the number of its cells.
SELECT
  row_number,
  line IS NULL OR trim(line) = '' AS blank,
  len(cells) > {columns} AND list_contains(list_transform(cells[{columns} + 1:], lambda c: trim(c) <> ''), true) AS surplus,
  nullif(trim(cells[{account}], ' "'), '') AS account_id,
  nullif(trim(cells[{start}], ' "'), '') AS stamp,
  nullif(trim(cells[{reading}], ' "'), '') AS reading
FROM (
  SELECT row_number() OVER () AS row_number, line, string_split(line, {delimiter}) AS cells
  FROM read_csv({path}, columns = {{'line': 'VARCHAR'}}, delim = '\x01', quote = '', escape = '', header = false,
                auto_detect = false, compression = 'none', max_line_size = 16777216)
)
WHERE row_number > {header_row}
