"""How long should my subs be? The panel, its model and its figures."""

from workbook.sub_length.view import SubLengthAnswer, SubLengthPanel, show, show_answer

__all__ = ["SubLengthAnswer", "SubLengthPanel", "show", "show_answer"]
