"""Print docs/data-model.md: ``python -m pipeline.tables > docs/data-model.md``."""

from pipeline.tables.page import data_model_page

print(data_model_page(), end="")
