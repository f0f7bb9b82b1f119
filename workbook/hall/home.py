"""What a guest takes home: everything in the own folder, and one page of the own plan to print."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

from expocalc.plan import Plan, PlanError
from workbook.parts.plan_files import PlanFiles
from workbook.sheets.page import to_html

__all__ = ["PAGE", "pack"]

PAGE = "my-plan-on-one-page.html"


def pack(folder: Path) -> bytes:
    """All that lies in a guest's folder, as a zip file.

    Parameters
    ----------
    folder : pathlib.Path

    Returns
    -------
    bytes
        With the page of the plan that was saved last, where it can be solved.
    """
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and not path.is_symlink() and not path.name.startswith("."):
                archive.write(path, path.relative_to(folder).as_posix())
        try:
            files = PlanFiles(folder)
            path = files.path(files.last_used())
            if not files.is_demo(path):
                plan = Plan.read(path)
                found = plan.solve()
                archive.writestr(PAGE, to_html(plan.case, found, plan.spread(found)))
        except (PlanError, ValueError):
            pass  # the plan can't be read any more: the rest goes home alone
    return file.getvalue()
