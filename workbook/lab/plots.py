"""The plot library's way into the page."""

from __future__ import annotations

import os

from bokeh.io import output_notebook
from bokeh.resources import INLINE

__all__ = ["bring_plots"]


def bring_plots() -> None:
    """Bring the plot library into the page, unless the launcher's extension has loaded it already.

    Never from a network: a notebook that is opened without the launcher gets it in the cell's output.
    """
    if "WORKBOOK_BOKEH" not in os.environ:
        output_notebook(INLINE, hide_banner=True)
