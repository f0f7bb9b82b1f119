"""Student copies of the workshop, built from the notebooks that hold the answers.

A cell tagged ``solution`` is emptied, one tagged ``answer`` left out, the facilitator's page closed, and outputs are
dropped. The folder's record says that these notebooks were changed on purpose, so the launcher keeps them and lays no
originals beside them.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from workbook.copies import lay, shipped, shipped_files, write_whole

__all__ = ["build", "student_copy"]

YOUR_TURN = "# Your turn"
CLOSED = "# For the facilitator\n\nThis page holds the answers. It is not in the copies for a workshop."


def student_copy(notebook: dict[str, Any]) -> dict[str, Any]:
    """A notebook without its answers.

    Parameters
    ----------
    notebook : dict
        As nbformat 4 has it; left as it is.

    Returns
    -------
    dict

    Examples
    --------
    >>> cell = {"cell_type": "code", "id": "a", "source": "6 * 7", "metadata": {"tags": ["solution"]},
    ...         "outputs": [{}], "execution_count": 3}
    >>> student_copy({"cells": [cell], "metadata": {}})["cells"][0]["source"]
    '# Your turn'
    """
    made = copy.deepcopy(notebook)
    if made["metadata"].get("workbook", {}).get("facilitator"):
        made["cells"] = [{"cell_type": "markdown", "id": "closed", "metadata": {}, "source": CLOSED}]
    made["cells"] = [cell for cell in made["cells"] if "answer" not in _tags(cell)]
    for cell in made["cells"]:
        if cell["cell_type"] == "code":
            cell["outputs"], cell["execution_count"] = [], None
        if "solution" in _tags(cell):
            cell["source"] = YOUR_TURN if cell["cell_type"] == "code" else "Your turn."
            cell["metadata"].pop("jupyter", None)  # an empty box that is folded would not be found
    return made


def _tags(cell: dict[str, Any]) -> list[str]:
    tags: list[str] = cell["metadata"].get("tags", [])
    return tags


def build(folder: Path, source: Path | None = None) -> list[Path]:
    """Lay the whole workbook in a folder, with student copies of the workshop's notebooks.

    Parameters
    ----------
    folder : pathlib.Path
        Made if it isn't there. Notebooks of the workshop in it are written anew.
    source : pathlib.Path, optional
        Where the originals lie; by default those that came with this package.

    Returns
    -------
    list of pathlib.Path
        The student copies.

    Raises
    ------
    OSError
        If something can't be read or written.
    ValueError
        If the folder holds the originals.
    """
    source = source or shipped()
    if folder.resolve().is_relative_to(source.resolve()):
        msg = f"FOLDER must not be the originals' own, got {folder}; write it like usb-stick/workshop"
        raise ValueError(msg)
    made = []
    for relative in shipped_files(source):
        if relative.parts[0] == "workshop":  # an older copy would count as its owner's, and stay
            (folder / relative).unlink(missing_ok=True)
    lay(source, folder)
    for relative in shipped_files(source):
        if relative.parts[0] == "workshop":
            copied = student_copy(json.loads((source / relative).read_bytes()))
            write_whole(folder / relative, (json.dumps(copied, indent=1, ensure_ascii=False) + "\n").encode())
            made.append(folder / relative)
    return made
