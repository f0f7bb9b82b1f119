"""The blind test on the screen: six numbered pictures, a button under each, and at the end one's own threshold."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.base.words import say_number
from workbook.parts.controls import say_wrong
from workbook.parts.frame import frame
from workbook.parts.table import Table
from workbook.workshop.blind_model import (
    FILE,
    ROUNDS,
    SNRS,
    TILES,
    Answer,
    collected,
    pictures,
    read_answers,
    threshold,
)
from workbook.workshop.experiments.png import data_address, png
from workbook.workshop.keep import Kept
from workbook.workshop.shown import Shown

__all__ = ["BlindTest", "ClassThreshold", "class_threshold"]

_STYLE = "<style>.expo-panel .expo-tile img { width: 100%; display: block; image-rendering: pixelated; }</style>"


class BlindTest(Shown):
    """Ten rounds of six pictures; the picks are kept, so that the test goes on where it was left.

    Parameters
    ----------
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        self._kept = Kept(folder, FILE)
        self.picks: dict[str, int] = dict(self._kept.read("picks"))
        self._last = ""
        self.head = w.HTML()
        self.images = [w.HTML(layout=w.Layout(width="100%")) for _ in range(TILES)]
        self.buttons = []
        columns = []
        for tile, image in enumerate(self.images, 1):
            image.add_class("expo-tile")
            button = w.Button(
                description=str(tile),
                tooltip=f"Picture {tile} hides the patch",
                layout=w.Layout(width="100%"),
            )
            button.on_click(lambda _, tile=tile: self.pick(tile))
            self.buttons.append(button)
            columns.append(
                w.VBox(
                    [image, button],
                    layout=w.Layout(flex="1 1 120px", max_width="190px", margin="0 8px 4px 0"),
                )
            )
        self._tiles = w.HBox(columns, layout=w.Layout(width="100%", flex_flow="row wrap"))
        self.said = w.HTML()
        self.again = w.Button(description="Start over", layout=w.Layout(width="110px"))
        self.again.on_click(lambda _: self.start_over())
        self.widget = frame(w.HTML(_STYLE), self.head, self._tiles, self.said, self.again)
        self.widget.add_class("expo-blind")
        self._show()

    @property
    def number(self) -> int | None:
        """The round that is open, from 0; None after the last."""
        return next((number for number in range(len(ROUNDS)) if str(number) not in self.picks), None)

    def pick(self, tile: int) -> None:
        """Take a pick and go on to the next round."""
        number = self.number
        if number is None:
            return
        self.picks[str(number)] = tile
        hidden = ROUNDS[number].hidden
        self._last = f"Yes, it was picture {hidden}." if tile == hidden else f"It was picture {hidden}."
        self._show(self._kept.write("picks", str(number), tile))

    def start_over(self) -> None:
        """Forget the picks."""
        troubles = [self._kept.write("picks", number, None) for number in self.picks]
        self.picks, self._last = {}, ""
        self._show(next(filter(None, troubles), ""))

    def _show(self, trouble: str = "") -> None:
        self.picks = {number: tile for number, tile in self.picks.items() if isinstance(tile, int)}
        number = self.number
        answers = read_answers(self.picks)
        said = say_wrong(trouble) if trouble else ""
        if number is None:
            self.head.value = "<p><b>All done. Thank you, eyes.</b></p>"
            self._tiles.layout.display = "none"
            words = f"<p>{escape(self._last)} {escape(_own(answers))}</p>{said}"
            self.said.value = f'<div role="status">{words}</div>{_table(answers)}'
        else:
            self.head.value = (
                f"<p><b>Round {number + 1} of {len(ROUNDS)}.</b> One of the six hides a faint square in its middle. "
                "Which? Press its number; if you see nothing, guess.</p>"
            )
            self._tiles.layout.display = None
            for tile, (image, picture) in enumerate(zip(self.images, pictures(number), strict=True), 1):
                seen = f"Picture {tile} of {TILES}: grain, perhaps with a square."
                image.value = f'<img src="{data_address(png(picture))}" alt="{seen}">'
            self.said.value = f'<div role="status"><p>{escape(self._last)}</p>{said}</div>'
        self.again.layout.display = None if self.picks else "none"


def _own(answers: list[Answer]) -> str:
    right = sum(answer.right for answer in answers)
    found = threshold(answers)
    eyes = "" if found is None else f" Your eyes begin to see at {_said(found)}."
    return f"{right} of {len(answers)} were right.{eyes}"


def _said(found: float) -> str:
    """A threshold in words; the test asks from SNR 1 to 10, and can't tell beyond."""
    if found < SNRS[0]:
        return f"an SNR below {SNRS[0]}"
    return f"an SNR of about {say_number(found)}" if found <= SNRS[-1] else f"an SNR above {SNRS[-1]}"


def _table(answers: list[Answer]) -> str:
    def cell(snr: float) -> str:
        given = [answer.right for answer in answers if answer.snr == snr]
        return f"{sum(given)} of {len(given)}"

    return Table(
        caption="Right picks, by how far the square stood out",
        head=("SNR of the square", "right"),
        rows=tuple((str(snr), cell(float(snr))) for snr in SNRS),
    ).to_html()


class ClassThreshold(Shown):
    """What all tests in a folder say together.

    Parameters
    ----------
    folder : str or pathlib.Path
        Searched with all that lies in it.
    """

    def __init__(self, folder: str | Path) -> None:
        tests, answers = collected(Path(folder))
        found = threshold(answers)
        said = (
            f"No tests here yet. Copy the files {FILE} into this folder, each under a name of its own."
            if found is None
            else f"Tests: {tests}, picks: {len(answers)}. This class begins to see at {_said(found)}."
        )
        self.sentence = said
        self.widget = frame(w.HTML(f'<p role="status">{escape(said)}</p>{_table(answers)}'))


def class_threshold(folder: str | Path) -> ClassThreshold:
    """Add up the tests in a folder, as the last line of the facilitator's cell."""
    return ClassThreshold(folder)
