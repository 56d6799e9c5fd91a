"""docs/reading.md says what the data say: the tables of the lexicon and the probabilities of the verdicts."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from pipeline.lexicon.load import read_content
from pipeline.tie.reading import Reading
from pipeline.tie.verdict import load_verdicts, verdict_of

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "reading.md").read_text(encoding="utf-8")


def test_the_page_lists_every_table_of_phrases_with_its_values() -> None:
    section = PAGE.split("| table | values |")[1].split("\n\n")[0]
    rows = [
        line.strip("| ").split(" | ")
        for line in section.splitlines()
        if line.startswith("| ") and "---" not in line
    ]
    written = {name: sorted(values.split(", ")) for name, values in rows}
    assert written == {name: sorted(values) for name, values in read_content(None).values.items()}


def example_of(section: str) -> str:
    return re.findall(r"```toml\n(.*?)```", PAGE.split(f"# {section}\n")[1], flags=re.DOTALL)[0]


def test_the_pages_verdicts_load_and_go_first(tmp_path: Path) -> None:
    (tmp_path / "verdicts.toml").write_text(example_of("A page of your own verdicts"), encoding="utf-8")
    first = load_verdicts(tmp_path).rules[0]
    assert first.why == "our crews change both"
    assert first.fits(reading("out", "control", "replaced", alone=False))
    assert not first.fits(reading("out", "control", "replaced"))


def test_the_pages_example_is_a_lexicon_that_loads(tmp_path: Path) -> None:
    example = example_of("The lexicon file")
    (tmp_path / "lexicon.toml").write_text(example, encoding="utf-8")
    assert tomllib.loads(example)["format"] == 1
    read_content(tmp_path)


def reading(
    symptom: str, component: str, action: str, *, alone: bool = True, bad: bool = False, cause: str = ""
) -> Reading:
    return Reading(symptom, component, "", action, cause, 1, alone, bad, True, "")


def test_the_page_gives_the_probabilities_of_the_verdict_table() -> None:
    row = {
        line.split(" | ")[0].strip("| "): line.split(" | ")[1].strip("| ")
        for line in PAGE.splitlines()
        if line.count(" | ") == 1
    }

    def written(start: str) -> list[float]:
        (cell,) = [cell for name, cell in row.items() if name.startswith(start)]
        return [float(number) for number in re.findall(r"0\.\d\d", cell)]

    def told(*readings: Reading) -> list[float]:
        return [verdict_of(one).probability for one in readings]

    control = ("control", "replaced")
    assert written("control replaced alone") == told(
        reading("day burning", *control), reading("out", *control)
    )
    assert written("control replaced with other") == told(
        reading("day burning", *control, alone=False), reading("out", *control, alone=False)
    )
    assert written("control found bad") == told(reading("out", "control", "referred", bad=True))
    assert written("control repaired") == told(
        reading("day burning", "control", "repaired"), reading("out", "control", "repaired")
    )
    assert written("day burning, no cause") == told(reading("day burning", "unknown", "repaired"))
    assert written("day burning, only a lamp") == told(reading("day burning", "lamp", "replaced"))
    assert written("wrong time, no part") == told(reading("wrong time", "unknown", "repaired"))
    assert written("bypassed") == told(reading("out", "control", "bypassed"))
    assert written("dark, no part") == told(reading("out", "unknown", "repaired"))


def test_a_cause_outside_the_control_acquits_it() -> None:
    for cause in ("hand", "bypass", "building automation", "covered eye", "daylight saving", "power outage"):
        assert verdict_of(reading("day burning", "control", "reset", cause=cause)).probability < 0.1


def test_the_failure_mode_follows_the_symptom() -> None:
    modes = {
        symptom: verdict_of(reading(symptom, "control", "replaced")).failure_mode
        for symptom in ("day burning", "out", "circuit out", "wrong time", "cycling")
    }
    assert modes == {
        "day burning": "fails on",
        "out": "fails off",
        "circuit out": "fails off",
        "wrong time": "erratic",
        "cycling": "erratic",
    }
