"""The workshop's words can be read by a twelve-year-old."""

import json
import re
from pathlib import Path

import pytest
from textstat import textstat

from workbook.workshop.experiments.exercises import EXERCISES
from workbook.workshop.glossary_terms import TERMS
from workbook.workshop.slip_questions import QUESTIONS

NOTEBOOKS = sorted((Path(__file__).resolve().parent.parent / "notebooks" / "workshop").glob("*.ipynb"))
HARDEST = 8
"""Automated readability index (Senter & Smith 1967, AMRL-TR-66-220): about the school year that can read it."""


def plain(markdown):
    """Words of a markdown text: no formulas, code, link targets, tables or marks."""
    for pattern, instead in (
        (r"\$[^$]*\$", "x"),
        (r"`[^`]*`", "x"),
        (r"\[([^\]]*)\]\([^)]*\)", r"\1"),
        (r"(?m)^\|.*$", ""),
        (r"[*_#>]", ""),
    ):
        markdown = re.sub(pattern, instead, markdown)
    # a heading or a list item without a full stop ends there all the same
    return re.sub(r"(?m)([\w)”])\s*$", r"\1.", markdown)


def prose(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return "\n\n".join(plain("".join(cell["source"])) for cell in cells if cell["cell_type"] == "markdown")


def test_the_whole_set_is_there():
    assert [path.stem[:2] for path in NOTEBOOKS if path.stem[0].isdigit()] == [
        "0-",
        "1-",
        "2-",
        "3-",
        "4-",
        "5-",
    ]
    assert {"guide", "slips"} <= {path.stem for path in NOTEBOOKS}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_is_easy_to_read(path):
    assert textstat.automated_readability_index(prose(path)) <= HARDEST


def test_glossary_slip_and_exercises_are_easy_to_read():
    tasks = [words for task in EXERCISES.values() for words in (task.question, task.why, *task.hints)]
    for words in (" ".join(TERMS.values()), " ".join(asked.question for asked in QUESTIONS), " ".join(tasks)):
        assert textstat.automated_readability_index(words) <= HARDEST


def test_a_hard_text_is_seen():
    hard = (
        "Notwithstanding considerable instrumental uncertainties, photometric characterisation of interstellar "
        "emission necessitates comprehensive understanding of statistical fluctuations."
    )
    assert textstat.automated_readability_index(plain(hard)) > HARDEST
    assert plain("## Two [words](a/b.md) and `code(1)` of $x^2$\n\n| a | b |").strip() == "Two words and x of x."
