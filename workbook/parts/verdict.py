"""The box where the eye lands first: one sentence, and under it what it rests on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import escape

import ipywidgets as w

__all__ = ["Verdict", "Words", "kept_whole"]

_UNIT = re.compile(r"(?<=\d) (?=(?:%|s|min|h|GB|MB|nm|mm|inch|mcd|R|K|°C|mag|subs?|nights?|times|electrons?)(?!\w))")
"""The space between a number and its unit, where no line may end."""


@dataclass(frozen=True, kw_only=True)
class Words:
    """The verdict: its first sentence, the rest in a line a topic, what it rests on and what would change it."""

    headline: str
    rest: str
    basis: str
    change: str


class Verdict:
    """One big sentence and smaller ones under it; every word is shown as text, whatever it holds."""

    def __init__(self) -> None:
        self.widget = w.HTML(layout=w.Layout(width="100%"))

    def say(self, headline: str, *others: str) -> None:
        """Say it; each line of the others is a paragraph."""
        lines = (line for other in others for line in other.splitlines())
        small = "".join(f'<p class="expo-small">{kept_whole(line)}</p>' for line in lines)
        self.widget.value = (
            f'<div class="expo-verdict" role="status"><p class="expo-headline">{kept_whole(headline)}</p>{small}</div>'
        )


def kept_whole(sentence: str) -> str:
    """A sentence as HTML text whose numbers stand on one line with their unit."""
    return _UNIT.sub("\N{NO-BREAK SPACE}", escape(sentence))
