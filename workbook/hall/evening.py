"""What an evening is: two codes, the guests and their folders, and which lessons are open.

It lies in one file, so that the leader's laptop may sleep, crash or start anew and every guest is still the same guest.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import psutil

from workbook.copies import shipped, write_whole
from workbook.hall.words import nickname

__all__ = ["LESSONS", "Evening", "Guest"]

FILE = "evening.json"
RUNNING = ".running"
GUESTS = "guests"
START = "start.ipynb"
PANELS = ("plan.ipynb", "sub_length.ipynb", "hours.ipynb", "compare.ipynb", "night.ipynb", "frames.ipynb")
_DIGITS, _LETTERS = "0123456789", "abcdefghkmnpqrstuvwxyz23456789"


def _lessons() -> tuple[str, ...]:
    """The workshop's notebooks in the order of their names, the guide left out: it holds the answers."""
    found = sorted(path.name for path in (shipped() / "workshop").glob("*.ipynb"))
    return tuple(f"workshop/{name}" for name in found if name != "guide.ipynb")


LESSONS = _lessons()
"""What the workshop's guests see, first to last."""


@dataclass(kw_only=True)
class Guest:
    """One who came in.

    Attributes
    ----------
    name : str
        Two harmless words.
    number : str
        With the name it opens the same folder from another telephone.
    key : str
        What the browser's cookie holds.
    """

    name: str
    number: str
    key: str

    @property
    def folder(self) -> str:
        """Name of the guest's folder."""
        return self.name.replace(" ", "-")


@dataclass(kw_only=True)
class Evening:
    """The state.

    Attributes
    ----------
    home : pathlib.Path
        The leader's folder.
    code : str
        Lets guests in.
    leader : str
        Opens the leader's page.
    secret : str
        Signs cookies.
    most : int
        Guests that may come.
    """

    home: Path
    code: str = field(default_factory=lambda: _draw(_DIGITS, 6))
    leader: str = field(default_factory=lambda: _draw(_LETTERS, 10))
    secret: str = field(default_factory=lambda: secrets.token_hex(32))
    most: int = 40
    guests: dict[str, Guest] = field(default_factory=dict)
    opened: list[str] = field(
        default_factory=lambda: [LESSONS[0], LESSONS[-1], LESSONS[1]]
    )  # the door, slips, lesson 1
    shown: list[str] = field(default_factory=list)
    where: dict[str, str] = field(default_factory=dict)

    @classmethod
    def at(cls, home: Path, **given: Any) -> Evening:
        """Open the evening that lies in a folder, or begin a new one.

        Raises
        ------
        OSError
            If the folder can't be written in.
        ValueError
            If its file is damaged.
        """
        home.mkdir(parents=True, exist_ok=True)
        path = home / FILE
        try:
            kept = json.loads(path.read_bytes())
            guests = {key: Guest(**one) for key, one in kept["guests"].items()}
            words = {name: kept[name] for name in ("code", "leader", "secret", "opened", "shown")}
        except FileNotFoundError:
            evening = cls(home=home, **given)
        except (ValueError, KeyError, TypeError, AttributeError):
            msg = f"{path} is damaged; move it away to begin a new evening, the guests' folders stay"
            raise ValueError(msg) from None
        else:
            evening = cls(home=home, guests=guests, **words, **given)
        evening.keep()
        return evening

    def claim(self) -> None:
        """Refuse a second hall in the same folder: each would write over what the other lets in.

        Raises
        ------
        ValueError
            If one runs here already.
        """
        path = self.home / RUNNING
        try:
            other = psutil.Process(int(path.read_text()))
            runs = other.pid != os.getpid() and any("hall" in word for word in other.cmdline())
        except (OSError, ValueError, psutil.Error):
            runs = False
        if runs:
            msg = f"a hall runs in {self.home} already (process {other.pid}); end it, or name another folder"
            raise ValueError(msg)
        write_whole(path, str(os.getpid()).encode())

    def keep(self) -> None:
        """Write the file; its owner alone may read it, since it holds the codes."""
        kept = {name: getattr(self, name) for name in ("code", "leader", "secret", "opened", "shown")}
        kept["guests"] = {key: asdict(guest) for key, guest in self.guests.items()}
        path = self.home / FILE
        write_whole(path, json.dumps(kept, indent=1).encode())
        with contextlib.suppress(OSError):  # a stick knows no rights
            path.chmod(0o600)

    def join(self) -> Guest | None:
        """Let one more in, with a folder and plans of the guest's own; None where it is full.

        Raises
        ------
        OSError
            If the disk takes no more; then nobody came in.
        """
        if len(self.guests) >= self.most:
            return None
        name = nickname({guest.name for guest in self.guests.values()})
        guest = Guest(name=name, number=_draw(_DIGITS, 6), key=secrets.token_urlsafe(24))
        self._furnish(self.folder(guest))
        self.guests[guest.key] = guest
        try:
            self.keep()
        except OSError:
            del self.guests[guest.key]  # nobody is in who would be forgotten
            raise
        return guest

    def folder(self, guest: Guest) -> Path:
        """The guest's folder."""
        return self.home / GUESTS / guest.folder

    def named(self, name: str) -> Guest | None:
        """The guest of that name."""
        words = " ".join(name.casefold().split())
        return next((guest for guest in self.guests.values() if guest.name == words), None)

    @staticmethod
    def _furnish(folder: Path) -> None:
        (folder / "workshop").mkdir(parents=True, exist_ok=True)
        (folder / "plans").mkdir(exist_ok=True)
        for plan in (shipped() / "plans").glob("[!.]*"):
            write_whole(folder / "plans" / plan.name, plan.read_bytes())

    def is_open(self, page: str) -> bool:
        """Whether guests may see a page now; the start page always."""
        return page == START or page in self.opened

    def turn(self, page: str, wanted: bool) -> None:
        """Open or close a page."""
        self.opened = [one for one in self.opened if one != page] + [page] * wanted
        self.keep()

    def reveal(self, key: str, wanted: bool) -> None:
        """Show or hide the truth of a question."""
        self.shown = [one for one in self.shown if one != key] + [key] * wanted
        self.keep()


def _draw(signs: str, number: int) -> str:
    return "".join(secrets.choice(signs) for _ in range(number))
