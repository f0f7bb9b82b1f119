"""What a guest takes home: everything in the own folder, and one page of the own plan to print."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

from expocalc.plan import Plan, PlanError
from workbook.sheets.page import to_html

__all__ = ["PAGE", "pack"]

PAGE = "my-plan-on-one-page.html"
_PLAN = Path("plans") / "my-plan.toml"


def pack(folder: Path) -> bytes:
    """All that lies in a guest's folder, as a zip file.

    Parameters
    ----------
    folder : pathlib.Path

    Returns
    -------
    bytes
        With the page, where the guest saved a plan that can be solved.
    """
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and not path.is_symlink() and not path.name.startswith("."):
                archive.write(path, path.relative_to(folder).as_posix())
        try:
            plan = Plan.read(folder / _PLAN)
            found = plan.solve()
            archive.writestr(PAGE, to_html(plan.case, found, plan.spread(found)))
        except (PlanError, ValueError):
            pass  # no plan was saved: the rest goes home alone
    return file.getvalue()
