"""An exercise as a widget: question, number box, check, hints. What happens is decided in :mod:`.asking`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from pathlib import Path

import ipywidgets as w

from workbook.parts.controls import say_wrong
from workbook.parts.frame import frame
from workbook.workshop.asking import Course, Question, check, help_on, worked_out
from workbook.workshop.keep import Kept
from workbook.workshop.shown import Shown

__all__ = ["Exercise"]

_SIGNS = {"right": "✓", "wrong": "↻", "unread": "✎", "shown": "★", "open": "💡"}


class Exercise(Shown):
    """A question with a number for an answer.

    Parameters
    ----------
    key : str
        Under which the last try is kept.
    question : str
    answer : callable or float
        The model's answer, or a function that works it out.
    low, high : float
        Answers from `low` to `high` are right.
    unit : str
        What the number counts, "" for a bare number.
    why : str
        Shown with the right answer.
    hints : sequence of str, optional
        Usually two.
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    """

    def __init__(
        self, key: str, question: str, answer: Callable[[], float] | float, low: float, high: float, unit: str,
        why: str, hints: Sequence[str] = (), folder: str | Path = ".",
    ) -> None:  # fmt: skip
        self.asked = Question(
            question=question,
            answer=worked_out(answer),
            low=low,
            high=high,
            unit=unit,
            why=why,
            hints=tuple(hints),
        )
        self.course = Course()
        self._key, self._kept = key, Kept(folder)
        self.box = w.Text(
            str(self._kept.read("tries").get(key, "")), tooltip=f"Your answer: {question}", placeholder="number",
            continuous_update=False, layout=w.Layout(width="140px"),
        )  # fmt: skip
        self.check = w.Button(description="Check", layout=w.Layout(width="90px"))
        self.help = w.Button(layout=w.Layout(width="auto"))
        self.said = w.HTML()
        row = w.HBox([self.box, w.Label(unit), self.check, self.help])
        row.add_class("expo-row")
        self.widget = frame(w.HTML(f'<p class="expo-asked"><b>Exercise.</b> {escape(question)}</p>'), row, self.said)
        self.widget.add_class("expo-exercise")
        self.box.observe(lambda _: self._check(), "value")
        self.check.on_click(lambda _: self._check())
        self.help.on_click(lambda _: self._show(help_on(self.asked, self.course)))
        self._name_help()

    def _check(self) -> None:
        trouble = self._kept.write("tries", self._key, self.box.value) if self.box.value.strip() else ""
        self._show(check(self.asked, self.course, self.box.value), trouble)

    def _show(self, course: Course, trouble: str = "") -> None:
        self.course = course
        sign = f'<span aria-hidden="true">{_SIGNS[course.kind]}</span> '
        sentences = "".join(f"<p>{sign if not number else ''}{escape(s)}</p>" for number, s in enumerate(course.said))
        warning = f"<p>{say_wrong(trouble)}</p>" if trouble else ""
        html = f'<div class="expo-reply expo-{course.kind}-try" role="status">{sentences}{warning}</div>'
        if self.said.value != html:
            self.said.value = html
        self._name_help()

    def _name_help(self) -> None:
        seen, hints = self.course.helped, len(self.asked.hints)
        self.help.description = f"Hint {seen + 1}" if seen < hints else "Show the answer"
        self.help.layout.display = "none" if self.course.done else None
