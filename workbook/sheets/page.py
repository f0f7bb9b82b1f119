"""The printed page: one sheet of A4 or Letter in black and white, with no script and no network."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date
from html import escape
from itertools import accumulate

from expocalc.base.words import say_count
from expocalc.budget.case import Case
from expocalc.budget.row import Answer, FilterAnswer
from expocalc.budget.spread import Spread
from workbook.parts.reading import as_user
from workbook.sheets.night import FilterWords, night
from workbook.sheets.paper import height, paper, paper_name, paper_table

__all__ = ["to_html"]

_MOST_FILTERS, _ROWS = 7, 13.0
"""Filters at most, and their room in rows of one line."""
_MOST_VERDICTS, _VERDICT_ROWS = 3, 3.0
_LONGEST_NAME = 40
_ROOM = 400
"""Letters of a verdict that have room in its four lines."""
_TALLIED, _NIGHTS, _FEW = 4, 5, 1
"""Filters and nights of the tally, and its nights where many filters take the room."""
_LINES = ("target", "goal", "gear", "sky", "tonight", "dither", "stop")
_HEADS = (
    "Filter",
    "Sub",
    "Shoot",
    "Kept",
    "Plan for",
    "Clock",
    "Files",
    "Median\nADU",
    "Sky ×2\nADU",
    "Done",
)
_STYLE = """
dl { display: grid; grid-template-columns: 22mm 1fr; }
dt { font-weight: bold; }
dd { margin: 0; overflow: hidden; text-overflow: ellipsis; white-space: nowrap; }
.why { font-size: 9pt; }
.box { border: 1.5pt solid #000; padding: 1mm 2mm; }
.tally td { height: 3.6mm; }
.tally table { table-layout: fixed; }
.tally th { overflow: hidden; text-overflow: ellipsis; }
"""


def to_html(case: Case, found: Answer, hours: Spread) -> str:
    """The night on one page.

    Parameters
    ----------
    case : Case
    found : Answer
    hours : Spread
        The case's own.

    Returns
    -------
    str
        A whole HTML document; whatever the plan's names hold is text in it.
    """
    words = night(case, found, hours)
    rows = [_cells(one) for one in words.filters]
    nights, most = _FEW, 1
    if len(rows) <= _TALLIED:  # what the rows have below their first lines takes room of nights and of verdicts
        more = height(*rows) - len(rows)
        nights = max(_NIGHTS - math.ceil(more), _FEW)
        most = max(_MOST_VERDICTS - math.ceil(more / _VERDICT_ROWS), 1)
    verdicts = [_why(one) for one in found.filters[:most]]
    body = f"""<p>Made on {date.today():%d %b %Y}. All hours and subs are those of the whole plan,
however many nights it takes.</p>
{_list((name.title(), getattr(words, name)) for name in _LINES)}
<p class="short why">{escape(words.cloud)}</p>
<h2>Shoot</h2>
{_table(rows, _cells(words.total))}
<p>Kept: at best. Plan for: half of all cases, and eight cases of ten, since nights are not as good as at best and
sky, target and gear are not exactly known.</p>
<p class="box"><strong>Check the first sub.</strong> Its median, between the stars and before any correction,
should read the <em>median ADU</em>. If it reads <em>sky ×2</em>, the sky is twice as bright as planned: moon, haze,
wrong filter or wrong gain? The hours then about double.</p>
<h2>Calibration frames</h2>
{_list(words.calibration)}
<h2>Why</h2>
{"".join(f'<p class="short why">{escape(verdict)}</p>' for verdict in verdicts)}
{_more(len(found.filters) - len(verdicts))}
<h2>Nights</h2>
<div class="tally">{_tally(words.filters, nights)}</div>
<p><strong>Safety.</strong> {escape(" ".join(words.safety))}</p>"""
    return paper(words.title, body, _STYLE)


def _why(one: FilterAnswer) -> str:
    """The verdict's first sentences, as many as have room."""
    said = [as_user(sentence).replace(one.filter_shown, _short(one.filter_shown)) for sentence in one.sentences]
    ends = accumulate(len(sentence) + 1 for sentence in said)
    return " ".join(sentence for sentence, end in zip(said, ends, strict=True) if end <= _ROOM or sentence is said[0])


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1] + "…"


def _list(pairs: Iterable[tuple[str, str]]) -> str:
    entries = "".join(f"<dt>{escape(name)}</dt><dd>{escape(what)}</dd>" for name, what in pairs)
    return f"<dl>{entries}</dl>"


def _more(count: int) -> str:
    return f"<p>And {say_count(count, 'filter')} more; the CSV table holds them.</p>" if count > 0 else ""


def _table(rows: list[tuple[str, ...]], total: tuple[str, ...]) -> str:
    room = sum(used <= _ROWS for used in accumulate(map(height, rows[:_MOST_FILTERS])))
    return paper_table(_HEADS, [*rows[:room], total]) + _more(len(rows) - room)


def _tally(filters: tuple[FilterWords, ...], nights: int) -> str:
    """Lines to fill in: subs that were kept, night by night."""
    names = [paper_name(one.name) for one in filters[:_TALLIED]] or [""]
    return paper_table(("Date", *names, "Remarks"), [("",) * (len(names) + 2)] * nights)


def _cells(one: FilterWords) -> tuple[str, ...]:
    medians = (word.replace(", ", "\n") for word in (one.median, one.twice))
    return (
        paper_name(one.name, one.whose),
        one.sub,
        one.shoot,
        one.kept,
        one.likely,
        one.clock,
        one.storage,
        *medians,
        "",
    )
