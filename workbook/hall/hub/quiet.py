"""A hub's pages hold what the hall's hold: prose, live panels, numbers as they are stored; no answers and no code."""

from __future__ import annotations

from typing import Any

import nbformat

from workbook.hall.pages import shown_cells

__all__ = ["quiet"]


def quiet(_request: Any, *, notebook: Any, **_: Any) -> Any:
    """Take from a notebook what no page shows, before Voilà runs its cells.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        The guest's copy; left as it is on the disk.

    Returns
    -------
    nbformat.NotebookNode
    """
    notebook.cells = [_still(cell) for cell in shown_cells(notebook)]
    return notebook


def _still(cell: Any) -> Any:
    """A cell that prints numbers becomes the numbers: Voilà would run it."""
    if cell.cell_type != "code" or "live" in cell.metadata.get("tags", []):
        return cell
    said = "".join(output.get("text", "") for output in cell.outputs).rstrip()
    return nbformat.v4.new_markdown_cell(f"```text\n{said}\n```" if said else "")
