"""A portfolio's own lexicon.toml: what it adds, and what is said when it is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.lexicon import load_lexicon
from pipeline.tie.reading import Reader


def page(folder: Path, text: str) -> Path:
    (folder / "lexicon.toml").write_text("format = 1\n" + text, encoding="utf-8")
    return folder


def test_a_folder_without_a_page_reads_with_the_built_in_words(tmp_path: Path) -> None:
    assert load_lexicon(tmp_path).lighting("lot lights out", "", "").by_text


def test_a_page_adds_words_of_the_house(tmp_path: Path) -> None:
    folder = page(tmp_path, '[phrases.component]\nphotocontrol = ["zz cap"]\n')
    told = Reader(load_lexicon(folder)).read("lights on all day", "replaced ZZ cap", "")[0]
    assert (told.component, told.kind) == ("control", "photocontrol")
    without = Reader(load_lexicon()).read("lights on all day", "replaced ZZ cap", "")[0]
    assert without.component == "unknown"


def test_a_page_changes_what_a_phrase_means(tmp_path: Path) -> None:
    folder = page(tmp_path, '[phrases.component]\n"time switch" = ["eye"]\n')
    assert Reader(load_lexicon(folder)).read("lights on all day", "replaced eye", "")[0].kind == "time switch"


def test_a_page_takes_a_phrase_away(tmp_path: Path) -> None:
    folder = page(tmp_path, '[remove.component]\nphotocontrol = ["eye"]\n')
    assert (
        Reader(load_lexicon(folder)).read("lights on all day", "replaced eye", "")[0].component == "unknown"
    )


def test_a_page_adds_a_way_of_writing_a_word(tmp_path: Path) -> None:
    folder = page(tmp_path, '[forms]\nphotocell = ["lichtsensor"]\n')
    assert (
        Reader(load_lexicon(folder)).read("lights on all day", "replaced Lichtsensor", "")[0].component
        == "control"
    )


def test_all_faults_of_a_page_are_told_at_once(tmp_path: Path) -> None:
    folder = page(
        tmp_path,
        """
colours = 1
[forms]
photocell = ["two words"]
[spelling]
wrong = ["x"]
[phrases.component]
photocntrol = ["abc"]
lamp = ["", "ok"]
[phrases.action]
replaced = ["_ begins with a gap", "a b c d e f g h i"]
[phrases.nothing]
x = ["y"]
[remove.component]
lamp = ["never there"]
""",
    )
    with pytest.raises(InputFaults) as caught:
        load_lexicon(folder)
    told = "\n".join(str(fault) for fault in caught.value.faults)
    for expected in (
        "colours", "'two words' is not one word", "spelling.wrong", "Did you mean 'photocontrol'?",
        "must be a list of words",
        "needs a word at each end", "more than 8 words", "'nothing' is not a table",
        "'never there' is not there to remove",
    ):  # fmt: skip
        assert expected in told


def test_a_phrase_given_two_meanings_in_one_page_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="also in"):
        load_lexicon(page(tmp_path, '[phrases.component]\nlamp = ["xx"]\ndriver = ["xx"]\n'))


@pytest.mark.parametrize("text", ["format = 2\n", "not toml at all [", "[forms]\n"])
def test_a_page_that_is_no_lexicon_is_a_fault_naming_the_file(tmp_path: Path, text: str) -> None:
    (tmp_path / "lexicon.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputFaults, match=r"lexicon\.toml"):
        load_lexicon(tmp_path)


def test_a_page_that_is_not_utf8_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "lexicon.toml").write_bytes(b"format = 1\n# \xff\xfe")
    with pytest.raises(InputFaults, match="UTF-8"):
        load_lexicon(tmp_path)
