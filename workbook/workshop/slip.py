"""The slip: five questions before the evening, the same five after it, and no name on it."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path

import ipywidgets as w

from workbook.parts.controls import say_wrong
from workbook.parts.frame import frame
from workbook.workshop.count import count
from workbook.workshop.keep import Kept
from workbook.workshop.numbers import read_number_kindly
from workbook.workshop.shown import Shown
from workbook.workshop.slip_questions import QUESTIONS

__all__ = ["SLIP_FILE", "WHEN", "Slip", "TallyTable", "tally"]

SLIP_FILE = "my-slip.json"
WHEN = ("before", "after")


class Slip(Shown):
    """Five boxes; what is typed is kept at once. It marks nothing: nobody is tested here.

    Parameters
    ----------
    when : str
        "before" or "after".
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.

    Raises
    ------
    ValueError
        If `when` is something else.
    """

    def __init__(self, when: str, folder: str | Path = ".") -> None:
        if when not in WHEN:
            msg = f'when must be "before" or "after", got {when!r}; write it like Slip("before")'
            raise ValueError(msg)
        self._when, self._kept = when, Kept(folder, SLIP_FILE)
        before = self._kept.read(when)
        self.boxes: dict[str, w.Text] = {}
        self.said = w.HTML()
        rows: list[w.Widget] = []
        for number, asked in enumerate(QUESTIONS, 1):
            box = w.Text(
                str(before.get(asked.key, "")), tooltip=asked.question, placeholder="number",
                continuous_update=False, layout=w.Layout(width="200px"),
            )  # fmt: skip
            box.observe(self._taker(asked.key, asked.unit), "value")
            self.boxes[asked.key] = box
            row = w.HBox([box, w.Label(asked.unit)])
            row.add_class("expo-row")
            rows += [w.HTML(f"<p>{number}. {escape(asked.question)}</p>"), row]
        self.widget = frame(*rows, self.said)
        self.widget.add_class("expo-slip")

    def _taker(self, key: str, unit: str) -> Callable[[dict[str, str]], None]:
        def take(change: dict[str, str]) -> None:
            text = change["new"].strip()
            sentences = [self._kept.write(self._when, key, text)]
            if text:
                try:
                    read_number_kindly(text, unit)
                except ValueError as error:
                    sentences.insert(0, str(error))
            wrong = " ".join(filter(None, sentences))
            done = sum(bool(box.value.strip()) for box in self.boxes.values())
            kept = f'<span class="expo-done" role="status">Kept: {done} of {len(self.boxes)} answers.</span>'
            self.said.value = say_wrong(wrong) if wrong else kept

        return take


class TallyTable(Shown):
    """What all slips in a folder say together.

    Parameters
    ----------
    folder : str or pathlib.Path
        Searched with all that lies in it.
    """

    def __init__(self, folder: str | Path) -> None:
        self.count = count(Path(folder))
        words = "".join(f"<p>{escape(sentence)}</p>" for sentence in self.count.sentences())
        self.widget = frame(w.HTML(f'<div role="status">{words}</div>{self.count.table().to_html()}'))


def tally(folder: str | Path) -> TallyTable:
    """Add up the slips in a folder, as the last line of the facilitator's cell."""
    return TallyTable(folder)
