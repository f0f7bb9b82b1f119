"""The kinds of file that a plan is written as."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from expocalc.budget.case import Case
from expocalc.budget.row import Answer
from expocalc.budget.spread import Spread
from workbook.sheets.field import field_sheet
from workbook.sheets.page import to_html
from workbook.sheets.table import to_csv, to_ecsv, to_json

__all__ = ["FORMATS", "Format"]


@dataclass(frozen=True)
class Format:
    """A kind of file.

    Attributes
    ----------
    name : str
        What its button says.
    suffix : str
    use : str
        What it is good for.
    write : callable
        Makes the file's text of a case, its answer and the spread of its hours.
    """

    name: str
    suffix: str
    use: str
    write: Callable[[Case, Answer, Spread], str]


FORMATS: tuple[Format, ...] = (
    Format("Field sheet", ".txt", "30 lines of plain text for the night", field_sheet),
    Format("Page", ".html", "one page to print; open it in a browser", to_html),
    Format("CSV", ".csv", "table for a spreadsheet", lambda _, found, hours: to_csv(found, hours)),
    Format("ECSV", ".ecsv", "table with its units, for astropy", lambda _, found, hours: to_ecsv(found, hours)),
    Format("JSON", ".json", "the answer for programs", lambda _, found, hours: to_json(found, hours)),
)
"""In the order of their buttons."""
