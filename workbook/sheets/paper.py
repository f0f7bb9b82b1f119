"""A page of paper: an HTML document in black and white, with no script and no network, and its tables."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from html import escape

__all__ = ["height", "paper", "paper_name", "paper_table"]

# Whatever the names' length, each line has its height, so that the whole stays on one page.
_STYLE = """
:root { color-scheme: light; }
@page { margin: 12mm; }
body { max-width: 180mm; margin: 0 auto; background: #fff; color: #000; font: 10pt/1.3 sans-serif; }
h1 { font-size: 14pt; margin: 0 0 2mm; max-height: 2.6em; overflow: hidden; overflow-wrap: anywhere; }
h2 { font-size: 11pt; margin: 2.5mm 0 1mm; border-bottom: 1pt solid #000; }
p, dl { margin: 1mm 0; }
.short { max-height: 5.2em; overflow: hidden; overflow-wrap: anywhere; }
table { border-collapse: collapse; width: 100%; }
th, td { border: .5pt solid #000; padding: .8mm 1mm; text-align: right; font-size: 8.5pt; white-space: nowrap; }
th:first-child { text-align: left; max-width: 42mm; overflow: hidden; text-overflow: ellipsis; }
.marked { font-weight: bold; border: 1.5pt solid #000; }
"""
_LINE = 0.7
"""Height of each further line of a row: it needs no room above and below."""
_COLUMN, _ROW = 'th scope="col"', 'th scope="row"'


def paper(title: str, body: str, style: str = "") -> str:
    """A whole HTML document.

    Parameters
    ----------
    title : str
        Shown as text, whatever it holds.
    body : str
        HTML below the title.
    style : str, optional
        CSS beside that of all pages.
    """
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{escape(title)}</title>
<style>{_STYLE}{style}</style>
</head>
<body>
<h1>{escape(title)}</h1>
{body}
</body>
</html>
"""


def paper_name(shown: str, whose: str = "") -> str:
    r"""A filter's name as a table has room for it.

    What its name tells wrong stands on a line of its own, and so does whose its hours are.

    Examples
    --------
    >>> paper_name("Dual 6 nm (now 3 nm)", "for O III in green")
    'Dual 6 nm\n(now 3 nm)\nfor O III in green'
    """
    return f"{shown.replace(' (now ', f'{chr(10)}(now ')}\n{whose}".rstrip()


def height(*rows: Sequence[str]) -> float:
    r"""Height of a table's rows, in rows of one line.

    Examples
    --------
    >>> height(("Dual 6 nm", "4 h")), height(("Dual 6 nm\nfor O III", "4 h"))
    (1.0, 1.7)
    """
    return sum(1 + _LINE * max(word.count("\n") for word in row) for row in rows)


def paper_table(head: Sequence[str], rows: Sequence[Sequence[str]], marked: Collection[int] = ()) -> str:
    """A table whose first column names the rows.

    Parameters
    ----------
    head : sequence of str
    rows : sequence of sequence of str
        Shown as text; a line break in a word starts a new line.
    marked : collection of int, optional
        Columns with a frame.

    Examples
    --------
    >>> print(paper_table(("Sky", "19"), [("H-alpha", "5 min")], marked={1}))
    <table><thead><tr><th scope="col">Sky</th><th scope="col" class="marked">19</th></tr></thead><tbody><tr>\
<th scope="row">H-alpha</th><td class="marked">5 min</td></tr></tbody></table>
    """

    def cell(at: int, word: str, tag: str) -> str:
        kind = ' class="marked"' if at in marked else ""
        text = escape(word).replace("\n", "<br>")
        return f"<{tag}{kind}>{text}</{tag.split()[0]}>"

    def line(row: Sequence[str]) -> str:
        first, *rest = row
        cells = "".join(cell(at, word, "td") for at, word in enumerate(rest, start=1))
        return f"<tr>{cell(0, first, _ROW)}{cells}</tr>"

    heads = "".join(cell(at, word, _COLUMN) for at, word in enumerate(head))
    lines = "".join(map(line, rows))
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table>"
