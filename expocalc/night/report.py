"""A night as lines of text."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from expocalc.base.words import say_duration, say_number
from expocalc.night.blocks import Block
from expocalc.night.evening import iso_z
from expocalc.night.fields import field_numbers
from expocalc.night.night import Tonight
from expocalc.night.words import supply_words, verdict

__all__ = ["report"]

_WIDTH = 100


def report(night: Tonight) -> str:
    """A night as lines of text: what the sky does, the windows, the hours, the blocks, and what it means."""
    evening = night.evening

    def clock(at: float | None) -> str:
        return "-" if at is None else f"{evening.clock(at)} ({iso_z(at)[11:16]} UTC)"  # type: ignore[index]

    lines = [
        night.case.title,
        f"Night of {evening.date}, times of {evening.zone}",
        "",
        *_table(
            ("", "rises", "highest", "sets"),
            [
                ("Sun", clock(night.sun.rise_s), clock(night.sun.transit_s), clock(night.sun.set_s)),
                ("Moon", clock(night.moon.rise_s), clock(night.moon.transit_s), clock(night.moon.set_s)),
                (
                    night.case.target.name,
                    clock(night.target.rise_s),
                    clock(night.target.transit_s),
                    clock(night.target.set_s),
                ),
            ],
            words=1,
        ),
        f"dark from {clock(night.dark_begin_s)} to {clock(night.dark_end_s)}; "
        f"Moon {say_number(100 * night.illuminated)} % lit at local midnight",
    ]
    if night.windows:
        spans = [
            (
                clock(w.begin_s),
                clock(w.end_s),
                w.opened_by,
                w.closed_by,
                "up" if w.moon_up else "down",
                say_duration(3600 * w.hours),
            )
            for w in night.windows
        ]
        lines += ["", *_table(("window from", "to", "opened by", "closed by", "Moon", "clock"), spans, words=5)]
    if night.nights is not None and night.hours:
        rows = [
            (
                reference.shown,
                say_duration(3600 * h.dark_h),
                say_duration(3600 * h.moonlit_h),
                say_duration(3600 * h.equivalent_dark_h),
            )
            for reference, h in zip(night.nights.references, night.hours, strict=True)
        ]
        lines += ["", *_table(("filter", "dark", "moonlit", "equivalent dark"), rows, words=1)]
    if night.blocks:
        lines += ["", *_table(_BLOCK_HEADINGS, [_block_row(night, block) for block in night.blocks], words=1)]
        lines.append(supply_words(night))
    return "\n".join([*lines, "", textwrap.fill(verdict(night), _WIDTH)])


_BLOCK_HEADINGS = ("block", "from", "to", "subs", "sub", "dither every", "median ADU", "equivalent dark")


def _block_row(night: Tonight, block: Block) -> tuple[str, ...]:
    numbers = field_numbers(night, block)
    median = numbers.median_adu
    return (
        block.filter_for,
        night.evening.clock(block.begin_s),
        night.evening.clock(block.end_s),
        str(block.subs),
        say_duration(block.sub_s),
        str(block.dither_every or "never"),
        f"bias+{say_number(numbers.above_bias_adu, 3)}" if median is None else say_number(median, 3),
        say_duration(3600 * block.equivalent_dark_h),
    )


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]], words: int) -> list[str]:
    """Lines of a table; the first columns are words and stand at the left."""
    widths = [max(map(len, column)) for column in zip(headings, *rows, strict=True)]
    lines = [
        "  ".join(
            cell.ljust(width) if place < words else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in (headings, *rows)
    ]
    return [lines[0], "-" * max(map(len, lines)), *lines[1:]]
