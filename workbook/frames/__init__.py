"""Are camera and sky what the plan says? The panel on real frames, its models and figures."""

from workbook.frames.view import FramesPanel, show

__all__ = ["FramesPanel", "show"]
