"""When is it dark, what is each hour worth, and what to do with it? The panel, its models and its figures."""

from workbook.night.view import NightPanel, show

__all__ = ["NightPanel", "show"]
