"""The course of an exercise as pure steps: a try, a hint, the next hint, the answer. No widgets here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from expocalc.base.words import say_number
from workbook.workshop.numbers import read_number_kindly

__all__ = ["Course", "Question", "check", "help_on"]


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question with a range of right answers.

    Attributes
    ----------
    question : str
    answer : float
        Worked out by the model; it lies in the range.
    low, high : float
        Answers from `low` to `high` are right.
    unit : str
        What the number counts, "" for a bare number.
    why : str
        Why the answer is what it is.
    hints : tuple of str
        Shown one by one, before the answer.

    Raises
    ------
    ValueError
        If the model's answer lies outside the range: then one of the two is wrong.
    """

    question: str
    answer: float
    low: float
    high: float
    unit: str
    why: str
    hints: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.low <= self.answer <= self.high:
            msg = f"answer must be from low {self.low:g} to high {self.high:g}, got {self.answer:g}: {self.question}"
            raise ValueError(msg)

    @property
    def solution(self) -> str:
        """The answer in words.

        Examples
        --------
        >>> Question(question="?", answer=206.4, low=200, high=212, unit="s", why="").solution
        '206 s (all from 200 to 212 count)'
        """
        digits = 3 if abs(self.answer) < 1000 else 4
        number = say_number(self.answer, digits).removesuffix(".00").removesuffix(".0")
        return f"{number} {self.unit}".strip() + f" (all from {self.low:g} to {self.high:g} count)"


@dataclass(frozen=True, kw_only=True)
class Course:
    """How far a visitor is with one question.

    Attributes
    ----------
    helped : int
        Hints seen; one more than there are hints once the answer was shown.
    kind : str
        "open", "right", "wrong", "unread" (no number yet) or "shown" (the answer).
    said : tuple of str
        Sentences to show now.
    last : str
        The text that was checked last: pressing twice is not two tries.
    """

    helped: int = 0
    kind: str = "open"
    said: tuple[str, ...] = ()
    last: str = ""

    @property
    def done(self) -> bool:
        """Whether there is nothing left to help with."""
        return self.kind in ("right", "shown")


def check(question: Question, course: Course, text: str) -> Course:
    """Check a typed answer.

    Parameters
    ----------
    question : Question
    course : Course
        How things stood.
    text : str
        What was typed.

    Returns
    -------
    Course
        How they stand now. A wrong number brings the next hint, and after the last one the answer; a word or
        nothing brings a kind sentence and costs nothing.

    Examples
    --------
    >>> ask = Question(question="Hours for twice the SNR of 4 h?", answer=16, low=15.5, high=16.5, unit="h",
    ...                why="Twice the SNR takes four times the hours.", hints=("Think of squares.", "2 x 2 = 4."))
    >>> course = check(ask, Course(), "8")
    >>> course.said
    ('Not yet: 8 h is too low. A good try; look again.', 'Hint 1: Think of squares.')
    >>> check(ask, course, "16,0").said
    ('Yes! Twice the SNR takes four times the hours.',)
    """
    typed = text.strip()
    if course.last and typed == course.last:
        return course
    try:
        number = read_number_kindly(typed, question.unit)
    except ValueError as error:
        return replace(course, kind="unread", said=(str(error),), last=typed)
    if question.low <= number <= question.high:
        return replace(course, kind="right", said=(f"Yes! {question.why}",), last=typed)
    side = "low" if number < question.low else "high"
    said = f"Not yet: {number:g} {question.unit}".rstrip() + f" is too {side}. A good try; look again."
    if course.kind == "shown":  # trying on after the answer was seen is welcome
        return replace(course, said=(said, _answer(question)), last=typed)
    helped = _next(question, course)
    return replace(
        helped, kind="wrong" if helped.kind == "open" else helped.kind, said=(said, *helped.said), last=typed
    )


def help_on(question: Question, course: Course) -> Course:
    """Show the next hint, or after the last one the answer."""
    return course if course.done else _next(question, course)


def _next(question: Question, course: Course) -> Course:
    if course.helped < len(question.hints):
        number = course.helped + 1
        return replace(course, helped=number, kind="open", said=(f"Hint {number}: {question.hints[course.helped]}",))
    return replace(course, helped=len(question.hints) + 1, kind="shown", said=(_answer(question),))


def _answer(question: Question) -> str:
    return f"The answer is {question.solution}. {question.why}"


def worked_out(answer: Callable[[], float] | float) -> float:
    """The number itself, or what the function that works it out returns."""
    return float(answer() if callable(answer) else answer)
