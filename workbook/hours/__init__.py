"""How many hours does it take, and how sure is that? The panel, its model and its figures."""

from workbook.hours.view import HoursPanel, show

__all__ = ["HoursPanel", "show"]
