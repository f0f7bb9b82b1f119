"""The picture of the evening: a stack to guess at when people come in, and what it took when they leave."""

from __future__ import annotations

from functools import cache
from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.base.curve import Floats
from expocalc.base.words import say_number
from expocalc.frames.measure.picture import stretch
from workbook.parts.frame import frame
from workbook.parts.png import data_address, png
from workbook.workshop.ask import Ask, judged
from workbook.workshop.experiments.rig import rig_of
from workbook.workshop.experiments.shell import limits_e, shoot
from workbook.workshop.guess import Guess, recall
from workbook.workshop.shown import Shown

__all__ = ["ASK", "HOURS", "Opening"]

HOURS, SUB_S = 16.0, 300.0
_SUBS = round(HOURS * 3600 / SUB_S)
_SEED = 118

ASK = Ask(
    key="first",
    question="How many hours of light went into this picture?",
    unit="hours",
    truth=lambda: HOURS,
)


@cache
def _picture() -> tuple[Floats, float]:
    """The stack, 0 to 1, and the SNR of a patch of its shell by the plan's formula."""
    rig = rig_of()
    (shot,) = shoot(rig, SUB_S, (_SUBS,), _SEED)
    return stretch(shot.picture, *limits_e(rig, SUB_S, rig.grain_e(SUB_S, _SUBS))), shot.planned


class Opening(Shown):
    """The picture with its guess, or with what it took.

    Parameters
    ----------
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    reveal : bool, optional
        Whether to tell.
    """

    def __init__(self, folder: str | Path = ".", *, reveal: bool = False) -> None:
        picture, snr = _picture()
        seen = w.HTML(
            f'<img class="expo-picture" src="{data_address(png(picture))}" style="width:320px;max-width:100%;'
            'image-rendering:pixelated" alt="A ring of gas among stars, in a fine grain.">'
        )
        if reveal:
            said = (
                f"{HOURS:g} hours: {_SUBS} subs of {SUB_S / 60:g} minutes with the demo plan's gear under its town "
                f"sky. A patch of the ring has an SNR of {say_number(snr)}. Half of the hours would leave "
                f"{say_number(snr / 2**0.5)}."
            )
            told = judged(ASK, recall(ASK.key, folder))
            below = w.HTML(f'<div role="status"><p><b>{escape(said)}</b></p><p>{escape(told)}</p></div>')
        else:
            below = Guess(ASK.key, ASK.question, ASK.unit, folder).body
        self.widget = frame(seen, below)
        self.widget.add_class("expo-opening")
