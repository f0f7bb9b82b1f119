"""The field sheet: 40 lines of 60 plain characters, for a clipboard, a phone or any terminal."""

from __future__ import annotations

import textwrap
import unicodedata
from datetime import date

from expocalc.base.words import say_count
from expocalc.budget.case import Case
from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from workbook.sheets.night import FilterWords, night

__all__ = ["MOST_LINES", "WIDTH", "field_sheet", "plain"]

MOST_LINES = 40
WIDTH = 60
_SPELT = str.maketrans(
    {
        "″": " arcsec", "°": " deg", "×": "x", "µ": "u", "μ": "u", "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"',
        "”": '"', "…": "...", "α": "alpha", "β": "beta", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE",
    }
)  # fmt: skip


def plain(text: str) -> str:
    r"""The text in ASCII: signs spelt, accents left out, what has no likeness as "?".

    Examples
    --------
    >>> plain("Ångström 5″, Hα \x1b[2J")
    'Angstrom 5 arcsec, Halpha ?[2J'
    """
    near = text.replace("\xa0", " ").replace(" °", "°")
    bare = unicodedata.normalize("NFKD", near.translate(_SPELT))
    return "".join(
        sign if sign.isascii() and sign.isprintable() else "?" for sign in bare if not unicodedata.combining(sign)
    )


def _fit(text: str, width: int = WIDTH) -> str:
    """The text in at most `width` characters; two dots stand for what is cut."""
    text = plain(text)
    return text if len(text) <= width else text[: width - 2] + ".."


def _row(words: FilterWords) -> list[str]:
    """A filter's numbers, which are never cut, behind as much of its name as there is room for."""
    numbers = f"{plain(words.sub):>8} {words.shoot:>6} {plain(words.clock):>7}"
    beside = len(words.median) <= 10 and len(words.twice) <= 9
    medians = f"{words.median:>10} {words.twice:>9}" if beside else " " * 20
    room = WIDTH - len(numbers) - len(medians) - 2
    name, _, now = words.name.partition(" (now ") if len(plain(words.name)) > room else (words.name, "", "")
    below = " ".join(filter(None, (f"(now {now}" if now else "", words.whose)))
    row = f"{_fit(name, room):{room}} {numbers} {medians}".rstrip()
    rest = [_fit(f"  {below}")] if below else []
    if beside:
        return [row, *rest]
    return [
        row,
        *rest,
        *(_fit(f"  {name} {what}") for name, what in (("median", words.median), ("sky x2", words.twice))),
    ]


def _named(name: str, text: str, most: int = 2) -> list[str]:
    """A paragraph behind its name, on `most` lines at most."""
    lines = textwrap.wrap(plain(text), WIDTH - 8, max_lines=most, placeholder="..", break_on_hyphens=False)
    return [f"{name if at == 0 else '':8}{line}" for at, line in enumerate(lines)]


def field_sheet(case: Case, found: Answer, hours: Spread) -> str:
    """The night on one sheet of plain text.

    Parameters
    ----------
    case : Case
    found : Answer
        The case's own.
    hours : Spread
        The case's own.

    Returns
    -------
    str
        At most 40 lines of 60 ASCII characters; filters that find no room are counted.
    """
    words = night(case, found, hours)
    head = [
        _fit(words.title),
        f"Made {date.today():%d %b %Y}; subs and clock hours are of the whole.",
        *_named("Target", words.target),
        *_named("Goal", words.goal, 3),
        *_named("Gear", words.gear),
        *_named("Sky", words.sky),
        *_named("Night", words.tonight, 3),
        *_named("Cloud", words.cloud, 3),
        "-" * WIDTH,
        *_row(_HEAD),
    ]
    foot = [
        *_row(words.total),
        *_named("Plan", words.planned.removeprefix("plan "), 3),
        *[f"Shot {number} ____________  subs kept ____________________________" for number in range(1, 5)],
        *_named("Check", _CHECK, 3),
        *_named("Dither", words.dither),
        *_named("Stop", words.stop),
        *[line for name, what in words.calibration for line in _named(name, what)],
        *_named("Safety", " ".join(words.safety), 3),
    ]
    room = MOST_LINES - len(head) - len(foot)
    rows: list[str] = []
    for number, one in enumerate(words.filters):
        lines, left = _row(one), len(words.filters) - number
        if len(rows) + len(lines) + (left > 1) > room:
            rows.append(f"and {say_count(left, 'filter')} more, in the table and in the sums")
            break
        rows += lines
    return "\n".join([*head, *rows, *foot]) + "\n"


_CHECK = (
    "The median is a raw sub's, in ADU. If it reads 'sky x2', the sky is twice as bright as planned: moon, haze, wrong "
    "filter or gain? Hours about double."
)
_HEAD = FilterWords(
    name="Filter",
    whose="",
    sub="sub",
    shoot="in all",
    kept="",
    likely="",
    clock="at best",
    storage="",
    median="median",
    twice="sky x2",
)
