"""A question before an experiment, and the friendly word on the guess after it. No widgets here.

The truth is the model's, for the experiment as it stands first: the question speaks of those numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from expocalc.base.words import say_number
from workbook.workshop.numbers import read_range_kindly

__all__ = ["Ask", "judged"]

RIGHT, CLOSE = 1.12, 1.5
"""A guess within these factors of the truth is right, or close."""
_NOTHING = 0.05
"""Of a truth that is 0: guesses up to this count as right. [in the unit asked]"""


@dataclass(frozen=True, kw_only=True)
class Ask:
    """A question to guess at.

    Attributes
    ----------
    key : str
        Under which the guess is kept: "double-hours".
    question : str
    truth : callable
        Works out the answer: a number in `unit`, or one of `choices`.
    unit : str
        What the number counts, "" for a bare number.
    choices : tuple of str
        Words to choose from, where the guess is no number.
    mark : callable, optional
        From a guess to its place on the chart, x and y.
    """

    key: str
    question: str
    truth: Callable[[], float | str]
    unit: str = ""
    choices: tuple[str, ...] = ()
    mark: Callable[[float], tuple[float, float]] | None = None

    def said(self, value: float) -> str:
        """A number in the unit asked.

        Examples
        --------
        >>> Ask(key="k", question="?", truth=lambda: 1.4, unit="times").said(1.414)
        '1.4 times'
        """
        number = say_number(value)
        return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {self.unit}".rstrip()

    def range_of(self, text: str) -> tuple[float, float] | None:
        """Ends of a typed guess; None where it is no number, or there is none."""
        try:
            return read_range_kindly(text, self.unit)
        except ValueError:
            return None


def judged(ask: Ask, text: str) -> str:
    """What is said of a guess once the experiment has run; "" where there is none.

    Parameters
    ----------
    ask : Ask
    text : str
        As it was typed or chosen.

    Examples
    --------
    >>> ask = Ask(key="k", question="?", truth=lambda: 1.414, unit="times")
    >>> judged(ask, "1.5"), judged(ask, "twice"), judged(ask, "1-4")
    ('You said 1.5, it is 1.4 times: well guessed.', 'You said twice, it is 1.4 times: close.', \
'You said 1-4, it is 1.4 times: it lies in your range.')
    """
    text = text.strip()
    if not text:
        return ""
    truth = ask.truth()
    if isinstance(truth, str):
        verdict = "just so" if text == truth else "now you know better than most"
        return f"You said “{text}”, it is “{truth}”: {verdict}."
    ends = ask.range_of(text)
    told = f"You said {text.removesuffix(ask.unit).rstrip() or text}, it is {ask.said(truth)}"
    if ends is None:
        return f"{told}. Next time try a number."
    return f"{told}: {_verdict(ends, truth)}."


def _verdict(ends: tuple[float, float], truth: float) -> str:
    low, high = ends
    if low < high and low <= truth <= high:
        return "it lies in your range"
    guess = min(ends, key=lambda end: abs(end - truth))
    if truth == 0:
        return "well guessed" if abs(guess) <= _NOTHING else "more than it is"
    times = guess / truth
    if times > 0 and max(times, 1 / times) <= RIGHT:
        return "well guessed"
    if times > 0 and max(times, 1 / times) <= CLOSE:
        return "close"
    return "it is more than you thought" if guess < truth else "it is less than you thought"
