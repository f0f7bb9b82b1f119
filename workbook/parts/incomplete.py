"""What a page tells that can't show the plan at hand: it is not complete yet, and where to complete it."""

from __future__ import annotations

from html import escape

from expocalc.plan import Plan, PlanError
from workbook.parts.plan_files import PlanFiles

__all__ = ["incomplete", "link_to_form"]


def incomplete(files: PlanFiles, opened: str) -> str:
    """Why the page shows another plan, or another version, than the one that is being made; "" where it does not.

    Parameters
    ----------
    files : PlanFiles
    opened : str
        Name of the plan that is shown.
    """
    # the form stands on what this page stands on, so that it can't be asked for at the head
    from workbook.plan.gaps import gaps, say_gaps
    from workbook.plan.sketches import last_sketch, read_sketch

    name = last_sketch(files) or opened
    path = files.path(name)
    try:
        base = Plan.read(path).values if path.exists() else {}
    except PlanError:
        return ""
    values = read_sketch(path, base)
    if values is None:
        return ""
    lacks = "; ".join(say_gaps(gaps(values))) or "two things that don't go together"
    shown = f"{opened}, a demo, is shown" if name != opened else "it is shown as it was saved"
    return f"Your plan {name} is not complete yet: it still needs {lacks}. Until then {shown} here."


def link_to_form(files: PlanFiles) -> str:
    """A link to the page where plans are made, as HTML."""
    address = escape(f"{files.up}plan.ipynb")
    style = "text-decoration: underline"
    return f'<a style="{style}" href="{address}" target="_blank">Complete it on the page of gear and targets</a>'
