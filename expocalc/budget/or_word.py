"""Fields in which a word may stand in place of a number or a length."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

__all__ = ["or_word"]


def or_word(field: Callable[..., Any], *args: Any, words: dict[str, Any], said: str = "", **declared: Any) -> Any:
    """Field that takes some words as well, each for what it stands for.

    Parameters
    ----------
    field : callable
        What declares the field without them, such as :func:`expocalc.base.noun.measure`.
    *args, **declared
        Its arguments.
    words : dict of str to object
        What each word stands for; None is then allowed as well.
    said : str, optional
        Example for the sentence of an error, where it is not the field's own.
    """
    other = field(*args, **declared | {"example": said or declared["example"]}).metadata["declared"].read
    made = field(*args, **declared).metadata["declared"]

    def read(name: str, value: Any) -> Any:
        if isinstance(value, str) and value in words:
            return words[value]
        return None if value is None and None in words.values() else other(name, value)

    return dataclasses.field(default=made.default, metadata={"declared": made._replace(read=read)})
