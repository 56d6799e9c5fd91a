"""What other programs leave in texts is turned into what it stands for: the same in Python and in SQL."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.remnants import without_remnants, without_remnants_sql
from pipeline.store import Store


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("lot light_x000D_\nstill on", "lot light\nstill on"),
        ("one_x000D_two_x000a_three_x0009_four", "one\ntwo\nthree\tfour"),
        ("one<br>two<BR/>three<br />four", "one\ntwo\nthree\nfour"),
        ('<p class="x">lamp <b>out</b></p>', "lamp out\n"),
        ("Lot&nbsp;A &amp; B, 5&#39; pole &quot;7&quot;", 'Lot A & B, 5\' pole "7"'),
        ("&lt;none&gt;", "<none>"),
        ("&amp;lt;", "&lt;"),  # undone once, not twice
        ("a < b and b > c, R&D, <unknown>, x_y", "a < b and b > c, R&D, <unknown>, x_y"),
        ("<script>alert(1)</script>", "<script>alert(1)</script>"),  # text is text: nothing is run or hidden
    ],
)
def test_remnants_become_what_they_stand_for(text: str, plain: str) -> None:
    assert without_remnants(text) == plain


_PIECES = st.sampled_from(
    [
        "&amp;",
        "&nbsp;",
        "&#39;",
        "<br>",
        "</P>",
        "<b>",
        "<p a='b'>",
        "_x000D_",
        "_x000d_\n",
        "&",
        "lt;",
        "<",
        "_",
        "é\n",
    ]
)


def test_sql_and_python_agree() -> None:
    store = Store.create()
    sql = f"SELECT {without_remnants_sql('t')} FROM (SELECT $text::VARCHAR AS t)"

    @given(st.lists(_PIECES, max_size=8).map("".join))
    def agree(text: str) -> None:
        assert store.value(sql, {"text": text}) == without_remnants(text)

    agree()
    assert store.value(f"SELECT {without_remnants_sql('t')} FROM (SELECT NULL::VARCHAR AS t)") is None
    store.close()
