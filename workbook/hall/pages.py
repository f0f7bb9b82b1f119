"""From a notebook that we ship to a page: its prose, its live cells run, its numbers as they are stored, no code."""

from __future__ import annotations

import copy
import logging
from collections.abc import AsyncIterator
from functools import cache
from typing import Any

import nbformat
from nbclient.exceptions import CellExecutionError
from voila.notebook_renderer import NotebookRenderer

from workbook.copies import shipped, shipped_files

__all__ = ["PageRenderer", "names", "page_notebook", "title_of"]

_LOG = logging.getLogger("workbook.hall")
_LEFT_OUT = {"solution", "answer", "notebook-only"}
SORRY = '<p role="alert">This part could not be drawn. Load the page again; what you typed is kept.</p>'


@cache
def names() -> frozenset[str]:
    """Pages that there are, as paths of the notebooks that we ship."""
    return frozenset(path.as_posix() for path in shipped_files(shipped()) if path.suffix == ".ipynb")


@cache
def _read(name: str) -> Any:
    return nbformat.read(shipped() / name, as_version=4)


def title_of(name: str) -> str:
    """First heading of a notebook.

    Examples
    --------
    >>> title_of("sub_length.ipynb")
    'How long should my subs be?'
    """
    first = str(_read(name).cells[0].source)
    return next(line.lstrip("# ") for line in first.splitlines() if line.startswith("#"))


def page_notebook(name: str) -> Any:
    """A notebook without what no page shows: the worked-out answers, and cells that are for the notebook alone.

    Parameters
    ----------
    name : str
        One of :func:`names`.
    """
    notebook = copy.deepcopy(_read(name))
    notebook.cells = [cell for cell in notebook.cells if not _LEFT_OUT & set(cell.metadata.get("tags", []))]
    notebook.metadata["title"] = title_of(name)
    return notebook


class PageRenderer(NotebookRenderer):
    """Voilà's renderer, which runs a cell only if we ship it with the tag `live`."""

    async def load_notebook(self, path: str) -> Any:
        """Take the shipped notebook, whatever lies in a guest's folder."""
        return await self.fix_notebook(page_notebook(path))

    async def _jinja_cell_generator(self, nb: Any, kernel_id: str) -> AsyncIterator[Any]:
        for number, cell in enumerate(nb.cells):
            if "live" in cell.metadata.get("tags", []):
                try:
                    await self.executor.execute_cell(cell, None, number, store_history=False)
                except (CellExecutionError, RuntimeError, TimeoutError):
                    _LOG.exception("cell %s of %s failed in kernel %s", number, self.notebook_path, kernel_id)
                    cell.outputs = [nbformat.v4.new_output("display_data", {"text/html": SORRY})]
            yield cell
        await self._cleanup_resources()
