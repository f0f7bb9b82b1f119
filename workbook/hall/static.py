"""Lessons as files that any browser reads without Python: their prose, and each test as it stands at first."""

from __future__ import annotations

import ast
import contextlib
import logging
import os
import re
import tempfile
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w
import mistune
from bokeh.embed import components
from bokeh.util.paths import bokehjs_path
from jupyter_bokeh import BokehModel

from expocalc.base.wholefile import write_file
from workbook.copies import lay, shipped
from workbook.hall.pages import page_notebook, title_of
from workbook.workshop.experiments.view import Trial
from workbook.workshop.guess import NOT_YET
from workbook.workshop.views import Views

__all__ = ["lay_pages", "static_page"]

_CSS = """body { max-width: 60rem; margin: 0 auto; padding: 0 1rem 4rem; color: #222;
  font: 17px/1.5 system-ui, sans-serif; }
a { color: #00507d; } table { border-collapse: collapse; } td, th { padding: .2rem 1rem .2rem 0; text-align: left; }
.try { border-left: 4px solid #0072b2; margin: 1rem 0; padding: .2rem 0 .2rem 1rem; } .try p { margin: .3rem 0; }
.line { display: inline-block; width: 9rem; border-bottom: 2px solid #444; } pre { white-space: pre-wrap; }
summary { padding: .3rem 0; cursor: pointer; font-weight: 600; } .expo-slider { display: none; }"""
_PLOTS = ("bokeh.min.js", "bokeh-widgets.min.js")
_NEEDS_A_KERNEL = "<p><em>This part asks or checks you; it works in the live page alone.</em></p>"


def lay_pages(folder: Path, names: list[str]) -> list[Path]:
    """Write each page, and the library that draws its charts, into one folder.

    Parameters
    ----------
    folder : pathlib.Path
    names : list of str
        Of notebooks that we ship.

    Returns
    -------
    list of pathlib.Path
        The pages.
    """
    made = []
    logging.getLogger("bokeh.embed.util").setLevel(logging.ERROR)  # that a page without Python calls no Python is meant
    with tempfile.TemporaryDirectory() as place:
        lay(shipped(), Path(place))
        for name in names:
            path = folder / f"{Path(name).stem}.html"
            with contextlib.chdir((Path(place) / name).parent):
                text = static_page(name, names)
            write_file(path, text.encode())
            made.append(path)
    for script in _PLOTS:
        write_file(folder / script, (Path(bokehjs_path()) / "js" / script).read_bytes())
    return made


def static_page(name: str, others: list[str]) -> str:
    """One notebook as HTML.

    Parameters
    ----------
    name : str
        Of a notebook that we ship.
    others : list of str
        Pages that lie beside it; links elsewhere become plain words.

    Notes
    -----
    Its cells look for plans beside the folder that they run in.
    """
    parts = []
    for cell in page_notebook(name).cells:
        if cell.cell_type == "markdown":
            parts.append(_prose(cell.source, others))
        elif "kernel-only" in cell.metadata.get("tags", []):
            parts.append(_NEEDS_A_KERNEL)
        elif "live" in cell.metadata.get("tags", []):
            shown = _tried(_run(cell.source))
            parts.append(f'<div class="try expo-panel">{shown}</div>' if shown else "")
        else:
            said = "".join(output.get("text", "") for output in cell.outputs)
            parts.append(f"<pre>{escape(said)}</pre>")
    scripts = "".join(f'<script src="{script}"></script>' for script in _PLOTS)
    meta = '<meta charset="utf-8"><meta name="viewport" content="width=device-width">'
    head = f"{meta}<title>{escape(title_of(name))}</title><style>{_CSS}</style>{scripts}"
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head>\n<body>{"".join(parts)}</body></html>\n'


def _prose(text: str, others: list[str]) -> str:
    beside = {Path(one).name for one in others}

    def link(match: re.Match[str]) -> str:
        target = Path(match[2]).name
        return f"[{match[1]}]({Path(target).stem}.html)" if target in beside else match[1]

    text = re.sub(r"\[([^\]]*)\]\(([^)]*\.ipynb)\)", link, text)
    return str(mistune.create_markdown(plugins=["table"])(text))


def _run(source: str) -> Any:
    """What a cell of ours comes to: the value of its last line."""
    os.environ["WORKBOOK_BOKEH"] = "1"  # the library lies beside the page
    tree = ast.parse(source)
    last = tree.body.pop()
    space: dict[str, Any] = {}
    exec(compile(tree, "cell", "exec"), space)
    found = eval(compile(ast.Expression(last.value), "cell", "eval"), space) if isinstance(last, ast.Expr) else None
    return found


def _tried(found: Any) -> str:
    """A panel as it stands at first; of an experiment first the question, and folded away what came out."""
    if isinstance(found, Views):
        return ""
    if not isinstance(found, Trial):
        return _shown(getattr(found, "widget", found))
    asked = _shown(found.widget)
    found.run()
    return f"{asked}<details><summary>Guessed? See what came out</summary>{_shown(found.result)}</details>"


def _shown(widget: Any) -> str:
    """Words, pictures and charts of a widget and all in it; a box to type in becomes a line to write on."""
    if widget is None or getattr(getattr(widget, "layout", None), "display", None) == "none":
        return ""
    if isinstance(widget, BokehModel):
        return "".join(components(widget._model, wrap_script=True))
    if isinstance(widget, w.HTML):
        return str(widget.value)
    if isinstance(widget, w.Label):
        return f"<span>{escape(widget.value)}</span> "
    if isinstance(widget, w.Dropdown):
        return " / ".join(escape(str(label)) for label in widget._options_labels if label != NOT_YET)
    if isinstance(widget, w.Text):
        return f"<b>{escape(widget.value)}</b> " if widget.value else '<span class="line">&nbsp;</span> '
    inside = "".join(_shown(child) for child in getattr(widget, "children", ()))
    return f"<div>{inside}</div>" if inside else ""
