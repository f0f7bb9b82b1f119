"""The one error of a plan, and the context that turns others into it."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import numpy as np

from expocalc.base.field import within
from expocalc.base.refusal import Refusal

__all__ = ["PlanError", "Where", "one_sentence"]

Where = tuple[str | int, ...]
"""Place of a value in a plan: ("sky", "zenith_brightness"), ("filters", 0, "name")."""


class PlanError(Refusal):
    r"""A plan that can't be read, solved or saved, with the one sentence that says why.

    Parameters
    ----------
    message : str
    place : tuple of str and int, optional
        Where in the plan it happened.

    Examples
    --------
    >>> from expocalc import Plan, PlanError
    >>> try:
    ...     Plan.parse("[sky]\nbortle = 10")
    ... except PlanError as error:
    ...     print(error)
    the plan needs a section [telescope]
    """

    def __init__(self, message: str, place: Where = ()) -> None:
        super().__init__(message)
        within(self, *place)


@contextlib.contextmanager
def one_sentence() -> Iterator[None]:
    """Whatever the numbers of a plan lead to inside this context, it is said in one sentence, a PlanError's."""
    try:
        with np.errstate(over="raise", invalid="raise", divide="raise"):
            yield
    except ValueError as error:
        msg = f"the plan: {error}"
        raise PlanError(msg) from None
    except ArithmeticError:
        msg = "the plan's numbers are too large or too small to compute with; is one of them in a wrong unit?"
        raise PlanError(msg) from None
