"""A question with a box for the answer, and a reply that says why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.base.quantity import read_quantity
from expocalc.plan import Plan
from workbook.parts.frame import frame
from workbook.parts.plan_files import DEMO

__all__ = ["Exercise", "exercise_box", "of_demo"]


@dataclass(frozen=True, kw_only=True)
class Exercise:
    """A question whose answer is a number.

    Attributes
    ----------
    question : str
    unit : str
        Unit of the answer; any of its kind may be typed.
    answer : float
        Worked out by the model. [unit]
    within : float, optional
        Share by which an answer may be off: two figures can be read off a panel, and a hand on a slider is not exact.
    example : str
        How an answer is typed.
    hint : str
        For an answer that is not there yet.
    why : str
        What the answer teaches.

    Examples
    --------
    >>> ask = Exercise(question="Two minutes, in seconds?", unit="s", answer=120.0, within=0.05,
    ...                example='"100 s"', hint="One minute has 60 s.", why="Twice 60 s.")
    >>> ask.reply("2 min"), ask.reply("1 min")
    ('Right. Twice 60 s.', 'Not yet: the answer is more than that. One minute has 60 s.')
    """

    question: str
    unit: str
    answer: float
    example: str
    hint: str
    why: str
    within: float = 0.1

    def reply(self, text: str) -> str:
        """What to say to a typed answer."""
        try:
            given = read_quantity("Your answer", text, self.unit, example=self.example)
        except (TypeError, ValueError) as error:
            return f"{error}."
        if abs(given / self.answer - 1) <= self.within:
            return f"Right. {self.why}"
        return f"Not yet: the answer is {'more' if given < self.answer else 'less'} than that. {self.hint}"


def exercise_box(exercise: Exercise) -> w.Widget:
    """The exercise as a widget: question, box, button and reply."""
    question = w.HTML(f"<p>{escape(exercise.question)}</p>")
    box = w.Text(tooltip="Your answer", placeholder=f"like {exercise.example}", continuous_update=False)
    button = w.Button(description="Check", layout=w.Layout(width="80px"))
    said = w.HTML()

    def check(_: object) -> None:
        if box.value.strip():
            said.value = f'<p role="status">{escape(exercise.reply(box.value))}</p>'

    button.on_click(check)
    box.observe(check, "value")
    return frame(question, w.HBox([box, button]), said)


def of_demo(exercises: Callable[[Plan], Sequence[Exercise]], number: int, folder: str | Path) -> w.Widget:
    """One of the exercises on the demo plan, counted from 1, as a widget."""
    return exercise_box(exercises(Plan.read(Path(folder) / DEMO))[number - 1])
