"""A box for a guess, to be filled in before the experiment runs."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

import ipywidgets as w

from workbook.parts.controls import say_wrong
from workbook.parts.frame import frame
from workbook.workshop.keep import Kept
from workbook.workshop.numbers import read_number_kindly, read_range_kindly
from workbook.workshop.shown import Shown

__all__ = ["NOT_YET", "Guess", "recall"]

NOT_YET = "(choose one)"
"""What a menu of answers shows before one is chosen."""


def recall(key: str, folder: str | Path = ".") -> str:
    """The guess that was kept under a key, as it was typed; "" where there is none."""
    return str(Kept(folder).read("guesses").get(key, ""))


class Guess(Shown):
    """A question, and a box whose words are kept at once and are there again next time.

    Parameters
    ----------
    key : str
        Under which the guess is kept: "double-hours".
    question : str
    unit : str, optional
        What the number counts; shown behind the box.
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    choices : sequence of str, optional
        Words to choose from, where the guess is no number.
    """

    def __init__(
        self, key: str, question: str, unit: str = "", folder: str | Path = ".", choices: Sequence[str] = ()
    ) -> None:
        self._key, self._unit, self._kept, self._choices = key, unit, Kept(folder), tuple(choices)
        before = recall(key, folder)
        if choices:
            self.box = w.Dropdown(
                options=(NOT_YET, *choices), value=before if before in self._choices else NOT_YET,
                tooltip=question, layout=w.Layout(width="auto"),
            )  # fmt: skip
        else:
            self.box = w.Text(
                before, tooltip=question, placeholder="your guess", continuous_update=False,
                layout=w.Layout(width="140px"),
            )  # fmt: skip
        self.said = w.HTML()
        if before:
            self._say("Your guess from before.")
        asked = w.HTML(f'<p class="expo-asked"><b>Guess first.</b> {escape(question)}</p>')
        row = w.HBox([self.box, w.Label(unit)])
        row.add_class("expo-row")
        self.body = w.VBox([asked, row, self.said], layout=w.Layout(width="100%"))
        self.widget = frame(self.body)
        self.body.add_class("expo-guess")
        self.box.observe(self._typed, "value")

    @property
    def text(self) -> str:
        """The guess as it stands in the box, "" where there is none."""
        return "" if self.box.value == NOT_YET else self.box.value.strip()

    @property
    def value(self) -> float | None:
        """The guess as a number; None where there is none."""
        try:
            return read_number_kindly(self.text, self._unit)
        except ValueError:
            return None

    def _typed(self, _: object) -> None:
        trouble = self._kept.write("guesses", self._key, self.text) if self.text else ""
        if not self._choices or not self.text:
            try:
                read_range_kindly(self.text, self._unit)
            except ValueError as error:
                kept = trouble or ("Your words are kept." if self.text else "")
                self._say(f"✎ {error} {kept}".strip())
                return
        if trouble:
            self.said.value = say_wrong(trouble)
        else:
            self._say("Kept. Now run it and look.")

    def _say(self, sentence: str) -> None:
        self.said.value = f'<span class="expo-done" role="status">{escape(sentence)}</span>'
