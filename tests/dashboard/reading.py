"""What a reader finds on a page of an AppTest."""

from __future__ import annotations

import html
import re

import pandas as pd
from streamlit.testing.v1 import AppTest


def markup(app: AppTest) -> str:
    """The HTML that the page itself writes, style sheet left out."""
    bodies = [element.proto.body for element in app.get("html")]
    return "\n".join(body for body in bodies if "<style>" not in body)


def words(app: AppTest) -> str:
    """Every sentence on the page, as shown."""
    parts = [html.unescape(re.sub(r"<[^>]+>", " ", markup(app)))]
    for elements in (app.title, app.header, app.subheader, app.caption, app.text, app.warning):
        parts += [str(element.value) for element in elements]
    return re.sub(r"[\s\u00a0\u202f]+", " ", " ".join(parts))


def tables(app: AppTest) -> list[pd.DataFrame]:
    """The page's grids in order, by column name."""
    return [element.value for element in app.dataframe]


def press(app: AppTest, label: str) -> AppTest:
    """Press the only button with that label."""
    found = [button for button in app.button if button.label == label]
    assert len(found) == 1, [button.label for button in app.button]
    return found[0].click().run()
