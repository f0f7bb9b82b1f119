"""The field sheet: 30 lines of 60 plain characters, for a clipboard, a phone or any terminal."""

from __future__ import annotations

import textwrap
import unicodedata

from expocalc.budget.case import Case
from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from workbook.sheets.night import FilterWords, night

__all__ = ["MOST_LINES", "WIDTH", "field_sheet"]

MOST_LINES = 30
WIDTH = 60
_SPELT = str.maketrans(
    {
        "″": " arcsec", "°": " deg", "×": "x", "µ": "u", "μ": "u", "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"',
        "”": '"', "…": "...", "α": "alpha", "β": "beta", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE",
    }
)  # fmt: skip


def _ascii(text: str) -> str:
    r"""The text in ASCII: signs spelt, accents left out, what has no likeness as "?".

    Examples
    --------
    >>> _ascii("Ångström 5″, Hα \x1b[2J")
    'Angstrom 5 arcsec, Halpha ?[2J'
    """
    bare = unicodedata.normalize("NFKD", text.translate(_SPELT))
    return "".join(
        sign if sign.isascii() and sign.isprintable() else "?" for sign in bare if not unicodedata.combining(sign)
    )


def _fit(text: str, width: int = WIDTH) -> str:
    """The text in at most `width` characters; two dots stand for what is cut."""
    text = _ascii(text)
    return text if len(text) <= width else text[: width - 2] + ".."


def _row(words: FilterWords) -> str:
    return (
        f"{_fit(words.name, 15):15} {_fit(words.sub, 8):>8} {_fit(words.shoot, 6):>6} {_fit(words.clock, 7):>7} "
        f"{_fit(words.median, 10):>10} {_fit(words.twice, 9):>9}"
    ).rstrip()


def _named(name: str, text: str, most: int = 2) -> list[str]:
    """A paragraph behind its name, on `most` lines at most."""
    lines = textwrap.wrap(_ascii(text), WIDTH - 8, max_lines=most, placeholder="..", break_on_hyphens=False)
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
        At most 30 lines of 60 ASCII characters; filters that find no room are counted.
    """
    words = night(case, found, hours)
    head = [
        _fit(words.title),
        "Date ______________  from __________  to __________",
        *_named("Target", words.target),
        *_named("Goal", words.goal),
        *_named("Gear", words.gear),
        "-" * WIDTH,
        _row(_HEAD),
    ]
    foot = [
        _row(words.total),
        *_named("Check", _CHECK, 3),
        *_named("Dither", words.dither),
        *_named("Stop", words.stop),
        *[line for name, what in words.calibration for line in _named(name, what)],
        *_named("Safety", " ".join(words.safety), 3),
    ]
    room = MOST_LINES - len(head) - len(foot)
    rows = [_row(one) for one in words.filters]
    if len(rows) > room:
        rows = [*rows[: room - 1], f"and {len(rows) - room + 1} filters more, in the table and in the sums"]
    return "\n".join([*head, *rows, *foot]) + "\n"


_CHECK = (
    "The median is a raw sub's, in ADU. If it reads 'sky x2', the sky is twice as bright as planned: moon, haze, wrong "
    "filter or gain? Hours about double."
)
_HEAD = FilterWords(
    name="Filter",
    sub="sub",
    shoot="shoot",
    kept="",
    likely="",
    clock="clock",
    storage="",
    median="median",
    twice="sky x2",
)
