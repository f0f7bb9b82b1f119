"""The blind test on the screen: six numbered pictures, a button under each, and at the end one's own threshold."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as w

from expocalc.base.words import say_number
from workbook.parts.controls import say_wrong
from workbook.parts.frame import frame
from workbook.parts.png import data_address, png
from workbook.parts.table import Table
from workbook.workshop.blind_model import (
    FILE,
    ROUNDS,
    SNRS,
    TILES,
    Answer,
    Threshold,
    collected,
    fresh_seed,
    patch_ring,
    pictures,
    read_answers,
    rounds_of,
    threshold,
)
from workbook.workshop.keep import Kept
from workbook.workshop.shown import Shown

__all__ = ["BlindTest", "ClassThreshold", "class_threshold"]

_STYLE = "<style>.expo-panel .expo-tile img { width: 100%; display: block; image-rendering: pixelated; }</style>"


class BlindTest(Shown):
    """Ten rounds of six pictures; the picks are kept, so that the test goes on where it was left.

    After a pick the pictures stay, and a frame lights up around the hidden square, until the player goes on. Several
    people can play at one laptop: each has a file of their own.

    Parameters
    ----------
    folder : str or pathlib.Path, optional
        The notebook's; by default the one that the kernel runs in.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        self._folder = Path(folder)
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
        self.onward = w.Button(description="Next round", button_style="primary", layout=w.Layout(width="110px"))
        self.again = w.Button(description="Start over", layout=w.Layout(width="110px"))
        self.other = w.Button(description="Another player", layout=w.Layout(width="130px"))
        self.onward.on_click(lambda _: self.go_on())
        self.again.on_click(lambda _: self.start_over())
        self.other.on_click(lambda _: self.next_player())
        row = w.HBox([self.onward, self.again, self.other], layout=w.Layout(flex_flow="row wrap"))
        self.widget = frame(w.HTML(_STYLE), self.head, self._tiles, self.said, row)
        self.widget.add_class("expo-blind")
        self._open(_last_player(self._folder))

    @property
    def number(self) -> int | None:
        """The round that is open, from 0; None after the last."""
        return next((number for number in range(ROUNDS) if str(number) not in self.picks), None)

    def pick(self, tile: int) -> None:
        """Take a pick, and show where the square was."""
        number = self.number
        if number is None or self.shown is not None:
            return
        trouble = "" if self.picks else self._kept.write("seed", "seed", self.seed)
        self.picks[str(number)] = tile
        self.shown = number
        self._show(self._kept.write("picks", str(number), tile) or trouble)

    def go_on(self) -> None:
        """Go on to the next round."""
        self.shown = None
        self._show()

    def start_over(self) -> None:
        """Forget the picks; the next test has other places."""
        troubles = [self._kept.write("picks", number, None) for number in self.picks]
        self._begin(next(filter(None, troubles), ""))

    def next_player(self) -> None:
        """Lay this test aside and begin one for somebody else."""
        self._open(self.player + 1)

    def _open(self, player: int) -> None:
        self.player = player
        self._kept = Kept(self._folder, _file_of(player))
        self.picks = {number: tile for number, tile in self._kept.read("picks").items() if isinstance(tile, int)}
        self.seed, self.shown = self._kept.read("seed").get("seed"), None
        if self.picks and isinstance(self.seed, int):
            self._show()
        else:
            self._begin()

    def _begin(self, trouble: str = "") -> None:
        self.picks, self.shown, self.seed = {}, None, fresh_seed()
        self._show(trouble)

    def _show(self, trouble: str = "") -> None:
        number = self.number if self.shown is None else self.shown
        answers = read_answers({"seed": {"seed": self.seed}, "picks": self.picks})
        said = say_wrong(trouble) if trouble else ""
        self.again.layout.display = self.other.layout.display = None if self.picks else "none"
        self.onward.layout.display = "none" if self.shown is None else None
        self.onward.description = "Next round" if self.number is not None else "My eyes"
        for button in self.buttons:
            button.disabled = self.shown is not None
        who = "" if self.player == 1 else f"Player {self.player}. "
        if number is None:
            self.head.value = f"<p><b>{who}All done. Thank you, eyes.</b></p>"
            self._tiles.layout.display = "none"
            self.said.value = f'<div role="status"><p>{escape(_own(answers))}</p>{said}</div>{_table(answers)}'
            return
        self._tiles.layout.display = None
        hidden = rounds_of(self.seed)[number].hidden
        for tile, (image, picture) in enumerate(zip(self.images, pictures(self.seed, number), strict=True), 1):
            lit = self.shown is not None and tile == hidden
            seen = f"Picture {tile} of {TILES}: grain, {'with the square, framed' if lit else 'perhaps with a square'}."
            image.value = f'<img src="{data_address(png(picture, patch_ring() if lit else None))}" alt="{seen}">'
        if self.shown is None:
            self.head.value = (
                f"<p><b>{who}Round {number + 1} of {ROUNDS}.</b> One of the six hides a faint square in its middle. "
                "Which? Press its number; if you see nothing, guess.</p>"
            )
            self.said.value = f'<div role="status">{said}</div>'
        else:
            found = "Yes, it is" if self.picks[str(number)] == hidden else "It is"
            self.head.value = f"<p><b>{who}Round {number + 1} of {ROUNDS}.</b> Look where the frame lights up.</p>"
            self.said.value = f'<div role="status"><p>{found} picture {hidden}.</p>{said}</div>'


def _file_of(player: int) -> str:
    return FILE if player == 1 else FILE.replace(".json", f"-{player}.json")


def _last_player(folder: Path) -> int:
    """The newest test of this laptop."""
    player = 1
    while (folder / _file_of(player + 1)).exists():
        player += 1
    return player


def _own(answers: list[Answer]) -> str:
    right = sum(answer.right for answer in answers)
    found = threshold(answers)
    eyes = "" if found is None else f" Your eyes begin to see at {_said(found)}."
    return f"{right} of {len(answers)} were right.{eyes}"


def _said(found: Threshold) -> str:
    """A threshold in words; the test asks from SNR 1 to 10, and can't tell beyond."""
    if found.snr < SNRS[0]:
        return f"an SNR below {SNRS[0]}"
    if found.snr > SNRS[-1]:
        return f"an SNR above {SNRS[-1]}"
    return f"an SNR of about {say_number(found.snr)} (from {say_number(found.low)} to {say_number(found.high)})"


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
    renamed : bool, optional
        Whether people may have named the files anew.
    """

    def __init__(self, folder: str | Path, *, renamed: bool = True) -> None:
        tests, self.answers, strange = collected(Path(folder), renamed=renamed)
        answers = self.answers
        found = threshold(answers)
        said = (
            f"No tests here yet. Copy the files {FILE} into this folder, each under a name of its own."
            if found is None
            else f"Tests: {tests}, picks: {len(answers)}. This class begins to see at {_said(found)}."
        )
        if strange:
            said += f" Could not be read, and left out: {', '.join(strange)}."
        self.sentence = said
        self.widget = frame(w.HTML(f'<p role="status">{escape(said)}</p>{_table(answers)}'))


def class_threshold(folder: str | Path) -> ClassThreshold:
    """Add up the tests in a folder, as the last line of the facilitator's cell."""
    return ClassThreshold(folder)
