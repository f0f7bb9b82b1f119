"""Before a notebook is saved: live panels draw themselves again, so nothing of them is kept in the file."""

from __future__ import annotations

from typing import Any

__all__ = ["strip_live"]


def strip_live(model: dict[str, Any], **_: Any) -> None:
    """Empty the outputs of cells tagged ``live`` in our notebooks; the reader's own outputs stay.

    Parameters
    ----------
    model : dict
        What JupyterLab is about to save; changed in place.
    **_
        What else the contents manager passes: path and manager.
    """
    if model["type"] == "notebook" and "workbook" in model["content"]["metadata"]:
        for cell in model["content"]["cells"]:
            if "live" in cell["metadata"].get("tags", []):
                cell["outputs"], cell["execution_count"] = [], None
