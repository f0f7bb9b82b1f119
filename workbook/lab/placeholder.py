"""Stands in for the first panel until it is written; then this file goes."""

import ipywidgets as w
import numpy as np
from bokeh.models import ColumnDataSource
from bokeh.plotting import figure
from jupyter_bokeh import BokehModel

from workbook.lab.plots import bring_plots


def panel():
    """Draw a line with a slope."""
    bring_plots()
    x = np.linspace(0.1, 3, 50)
    source = ColumnDataSource({"x": x, "y": x}, name="hours")
    fig = figure(height=280, sizing_mode="stretch_width", min_width=300, toolbar_location=None)
    fig.line("x", "y", source=source)
    slider = w.FloatSlider(description="Slope", value=1, min=0, max=5)
    box = w.Text(description="Title", value="", continuous_update=False)

    def move(_):
        source.data = {"x": x, "y": x * slider.value}

    def write(_):
        fig.title.text = box.value

    slider.observe(move, "value")
    box.observe(write, "value")
    view = BokehModel(fig, layout=w.Layout(flex="1 1 0%", width="auto", min_width="0"))
    out = w.HBox([w.VBox([slider, box]), view], layout=w.Layout(width="100%"))
    out.add_class("expo-panel")
    return out
