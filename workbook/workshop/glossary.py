"""A term with its explanation one press away."""

from __future__ import annotations

from html import escape

import ipywidgets as w

from workbook.parts.frame import frame
from workbook.workshop.glossary_terms import TERMS
from workbook.workshop.shown import Shown

__all__ = ["Term", "explain", "term"]


def explain(name: str) -> str:
    """Plain words for a term.

    Parameters
    ----------
    name : str
        In any mix of small and capital letters.

    Raises
    ------
    ValueError
        If the glossary doesn't hold it.

    Examples
    --------
    >>> explain("Sub")
    'One single shot of the camera. The mean of many subs is the picture.'
    """
    for known, words in TERMS.items():
        if known.casefold() == name.strip().casefold():
            return words
    msg = f"the glossary has no {name!r}; it has {', '.join(TERMS)}"
    raise ValueError(msg)


class Term(Shown):
    """Terms that open on a press or the Enter key, and then show their words below.

    The page opens and shuts them by itself and tells a screen reader which are open: no kernel is needed.

    Parameters
    ----------
    *names : str
    """

    def __init__(self, *names: str) -> None:
        self.html = "".join(
            f'<details class="expo-term"><summary>{escape(name)}: what is that?</summary><p>{escape(explain(name))}</p>'
            "</details>"
            for name in names
        )
        self.widget = frame(w.HTML(self.html, layout=w.Layout(width="100%")))
        self.widget.add_class("expo-terms")


def term(*names: str) -> Term:
    """Terms with their words a press away, as the last line of a cell: ``term("dark current", "gain")``."""
    return Term(*names)
