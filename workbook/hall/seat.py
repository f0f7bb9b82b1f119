"""What runs in a guest's kernel: heavy imports ahead of time, and a clean start for each page."""

from __future__ import annotations

import gc
import os

__all__ = ["take_seat", "warm_up"]


def warm_up() -> None:
    """Import what the pages need, and draw once for nobody, before anybody waits for it."""
    from ipywidgets import Widget

    import workbook.compare
    import workbook.hours
    import workbook.sub_length
    import workbook.workshop.blind
    import workbook.workshop.experiments.exercises  # noqa: F401
    from workbook.workshop.experiments import EXPERIMENTS
    from workbook.workshop.experiments.view import Trial

    Trial(next(iter(EXPERIMENTS)))  # the first drawing of all takes three times as long as the next
    Widget.close_all()
    gc.collect()
    gc.freeze()


def take_seat(home: str, folder: str, closed: str = "") -> None:
    """Sweep the last page away and go into the guest's folder.

    Parameters
    ----------
    home : str
        The guest's folder.
    folder : str
        In it, where the next page's notebook would lie.
    closed : str
        The leader's folder; with it, files outside `home` are out of reach from now on.
    """
    from ipywidgets import Widget

    Widget.close_all()
    os.chdir(folder)
    if closed:
        from workbook.hall.fence import fence

        fence(home, closed)
