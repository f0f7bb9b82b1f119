"""From a notebook that we ship to a page: its prose, its live cells run, its numbers as they are stored, no code."""

from __future__ import annotations

import copy
import logging
from collections.abc import AsyncIterator
from functools import cache
from typing import Any

import nbformat
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from nbclient.exceptions import CellExecutionError
from voila.notebook_renderer import NotebookRenderer

from workbook.copies import shipped, shipped_files

__all__ = ["PageRenderer", "names", "page_notebook", "shown_cells", "title_of"]

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


def shown_cells(notebook: Any) -> list[Any]:
    """Cells of a notebook that a page shows."""
    return [cell for cell in notebook.cells if not _LEFT_OUT & set(cell.metadata.get("tags", []))]


def page_notebook(name: str) -> Any:
    """A notebook without what no page shows: the worked-out answers, and cells that are for the notebook alone.

    Parameters
    ----------
    name : str
        One of :func:`names`.
    """
    notebook = copy.deepcopy(_read(name))
    notebook.cells = shown_cells(notebook)
    notebook.metadata["title"] = title_of(name)
    return notebook


class _Compiled(BytecodeCache):
    """Templates as they were compiled for the first page; compiling them is a quarter of the server's work on one."""

    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self._kept:
            bucket.bytecode_from_string(self._kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key] = bucket.bytecode_to_string()


_COMPILED = _Compiled()


class PageRenderer(NotebookRenderer):
    """Voilà's renderer, which runs a cell only if we ship it with the tag `live`."""

    async def initialize(self, **wanted: Any) -> None:
        """Take templates that are compiled already."""
        await super().initialize(**wanted)
        self.exporter.environment.bytecode_cache = _COMPILED

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
