"""What all pictures of the hours panel share."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from bokeh.core.properties import value
from bokeh.models import Range1d

from workbook.parts.figures import FONT

__all__ = ["HEIGHT", "WORDS", "move"]

HEIGHT = 372
"""Of every picture, so that nothing jumps when another is chosen. [px]"""
WORDS: Mapping[str, Any] = MappingProxyType(
    {"text_font": value(FONT), "text_font_size": "12px", "text_baseline": "middle", "level": "annotation"}
)


def move(reach: Range1d, ends: tuple[float, float]) -> None:
    """Move an axis, where that is a change."""
    if (reach.start, reach.end) != ends:
        reach.start, reach.end = ends
