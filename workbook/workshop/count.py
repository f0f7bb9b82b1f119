"""Adding up slips: how many answered each question, and how many were right, before and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from workbook.parts.table import Table
from workbook.workshop.gathered import gather
from workbook.workshop.slip_questions import QUESTIONS

__all__ = ["Count", "Score", "count"]


@dataclass(frozen=True, kw_only=True)
class Score:
    """One question at one time: how many answered, how many were right."""

    answered: int = 0
    right: int = 0


@dataclass(frozen=True, kw_only=True)
class Count:
    """All slips of a folder together.

    Attributes
    ----------
    slips : int
        Slips that could be read.
    damaged : tuple of str
        Names of files that could not.
    scores : mapping of (when, key) to Score
        For "before" and "after", and each question's key.
    """

    slips: int
    damaged: tuple[str, ...]
    scores: Mapping[tuple[str, str], Score]

    def sentences(self) -> tuple[str, ...]:
        """What came of it, in words.

        Examples
        --------
        >>> Count(slips=0, damaged=(), scores={}).sentences()
        ('No slips here yet. Copy the files my-slip.json into this folder, each under a name of its own.',)
        """
        said = []
        if self.slips:
            before, after = (self._share(when) for when in ("before", "after"))
            said.append(
                f"{self.slips} slip{'' if self.slips == 1 else 's'}. Right answers: {before} before, {after} after."
            )
        else:
            said.append(
                "No slips here yet. Copy the files my-slip.json into this folder, each under a name of its own."
            )
        if self.damaged:
            said.append(f"Could not be read, and left out: {', '.join(self.damaged)}.")
        return tuple(said)

    def _share(self, when: str) -> str:
        scores = [score for (at, _), score in self.scores.items() if at == when]
        return f"{sum(score.right for score in scores)} of {sum(score.answered for score in scores)}"

    def table(self) -> Table:
        """The same question by question."""

        def cell(when: str, key: str) -> str:
            score = self.scores.get((when, key), Score())
            return f"{score.right} of {score.answered}"

        return Table(
            caption="Right answers, of all that were given",
            head=("Question", "Before", "After"),
            rows=tuple((one.question, cell("before", one.key), cell("after", one.key)) for one in QUESTIONS),
        )


def count(folder: Path, *, renamed: bool = True) -> Count:
    """Add up the slips in a folder and in what lies in it.

    Parameters
    ----------
    folder : pathlib.Path
    renamed : bool, optional
        Whether people may have named the files anew.

    Returns
    -------
    Count
        A file that can't be read is named, and the others still count.
    """
    slips, damaged = gather(folder, "slip", renamed=renamed)
    scores = {}
    for when in ("before", "after"):
        for asked in QUESTIONS:
            texts = [_text(slip, when, asked.key) for slip in slips]
            given = [text for text in texts if text]
            scores[when, asked.key] = Score(answered=len(given), right=sum(map(asked.is_right, given)))
    return Count(slips=len(slips), damaged=damaged, scores=scores)


def _text(slip: dict[str, Any], when: str, key: str) -> str:
    answers = slip.get(when)
    given = answers.get(key, "") if isinstance(answers, dict) else ""
    return str(given).strip() if isinstance(given, str | int | float) else ""
