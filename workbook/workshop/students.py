"""Student copies of the workshop, built from the notebooks that hold the answers.

A cell tagged ``solution`` is emptied, one tagged ``answer`` left out, the facilitator's page closed, and outputs are
dropped. The folder's record says that these notebooks were changed on purpose, so the launcher keeps them and lays no
originals beside them.
"""

from __future__ import annotations

import copy
import errno
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from workbook.copies import fingerprint, lay, read_record, shipped, shipped_files, write_whole

__all__ = ["build", "student_copy"]

BUILT = ".expocalc-students.json"
"""Which student copies were built in a folder."""
_AS_JUPYTER: Mapping[str, Any] = {"indent": 1, "ensure_ascii": False}
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
        Made if it isn't there. Student copies of an earlier build in it are written anew.
    source : pathlib.Path, optional
        Where the originals lie; by default those that came with this package.

    Returns
    -------
    list of pathlib.Path
        The student copies.

    Raises
    ------
    FileExistsError
        If a notebook of the workshop stands there that somebody changed; nothing is written then.
    OSError
        If something can't be read or written.
    ValueError
        If the folder holds the originals.
    """
    source = source or shipped()
    if folder.resolve().is_relative_to(source.resolve()):
        msg = f"FOLDER must not be the originals' own, got {folder}; write it like usb-stick/workshop"
        raise ValueError(msg)
    copies = {
        relative: (
            json.dumps(student_copy(json.loads((source / relative).read_bytes())), **_AS_JUPYTER) + "\n"
        ).encode()
        for relative in shipped_files(source)
        if relative.parts[0] == "workshop"
    }
    for relative, content in copies.items():
        _spare(folder / relative, content, source / relative, folder)
    for relative in copies:  # an older copy would count as its owner's, and stay
        (folder / relative).unlink(missing_ok=True)
    lay(source, folder)
    for relative, content in copies.items():
        write_whole(folder / relative, content)
    _remember(folder, copies)
    return [folder / relative for relative in copies]


def _spare(path: Path, content: bytes, original: Path, folder: Path) -> None:
    """Refuse where a file stands that neither a launcher nor an earlier build left so."""
    if not path.exists():
        return
    mine = {fingerprint(path.name, content), fingerprint(path.name, original.read_bytes()), *_built(folder, path)}
    if fingerprint(path.name, path.read_bytes()) not in mine:
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))


def _built(folder: Path, path: Path) -> list[str]:
    """Fingerprints of what was laid or built there before."""
    name = path.relative_to(folder).as_posix()
    return [*read_record(folder).get(name, []), *read_record(folder, BUILT).get(name, [])]


def _remember(folder: Path, copies: Mapping[Path, bytes]) -> None:
    record = read_record(folder, BUILT)
    for relative, content in copies.items():
        known = record.setdefault(relative.as_posix(), [])
        if (print_ := fingerprint(relative.name, content)) not in known:
            known.append(print_)
    write_whole(folder / BUILT, json.dumps(record, indent=1).encode())
