"""The leader's page: how to come in, who is where, everybody's guesses as one picture. Made for a projector."""

from __future__ import annotations

import asyncio
from typing import Any

import psutil
import segno
import tornado.web

from workbook.hall.evening import LESSONS, PANELS
from workbook.hall.pages import title_of
from workbook.hall.web import LEADER_COOKIE, Front

__all__ = ["handlers"]

VIEWS = {"door": "Come in", "guesses": "Guesses", "eyes": "Eyes", "slips": "Slips", "laptop": "This laptop"}
_MB = 2**20


class Leader(Front):
    """Base: only who typed the leader's code gets further."""

    def prepare(self) -> None:
        """Ask for the code first."""
        super().prepare()
        if self._finished or self.is_leader() or self.request.path == "/leader":
            return
        raise tornado.web.HTTPError(403)


class Desk(Leader):
    """The page itself, or the box for the code."""

    def get(self) -> None:
        """Show it."""
        if not self.is_leader():
            return self.render("leader_code.html", wrong="")
        from workbook.hall.gather import asked

        show = self.get_query_argument("show", "door")
        hall = self.hall
        address = f"http://{hall.ip}:{hall.port}"
        code = segno.make(f"{address}/join?code={hall.evening.code}", error="m")
        self.render(
            "leader.html", views=VIEWS, show=show if show in VIEWS else "door", address=address, code=hall.evening.code,
            picture=code.svg_inline(border=2, omitsize=True), questions=asked(),
            lessons=[(one, title_of(one)) for one in (*LESSONS, *PANELS)],
        )  # fmt: skip

    def post(self) -> None:
        """Take the code."""
        tries, address = self.hall.tries, f"leader {self.request.remote_ip}"
        if (wait := tries.wait_s(address)) > 0:
            self.set_status(429)
            self.set_header("Retry-After", str(int(wait) + 1))
            return self.render("leader_code.html", wrong=f"Too many wrong tries from here. Wait {int(wait) + 1} s.")
        if not tries.take(address, self.get_body_argument("code", "")[:40], self.hall.evening.leader):
            self.set_status(403)
            return self.render(
                "leader_code.html",
                wrong="That is not the leader's code. It stands in the window that started the hall.",
            )
        self.remember(LEADER_COOKIE, self.hall.evening.leader)
        self.redirect("/leader")


class State(Leader):
    """How things stand, for the page to draw."""

    async def get(self) -> None:
        """Tell."""
        hall = self.hall
        evening, kernels = hall.evening, hall.kernels
        where = [evening.where.get(key) for key, seat in kernels.seats.items() if seat.sockets]
        lessons = {one: {"open": evening.is_open(one), "guests": where.count(one)} for one in (*LESSONS, *PANELS)}
        show = self.get_query_argument("show", "door")
        told: dict[str, Any] = {"guests": len(evening.guests), "here": len(where), "lessons": lessons}
        folders = [evening.folder(guest) for guest in evening.guests.values()]
        if show == "guesses":
            told |= await asyncio.to_thread(_guesses, self.get_query_argument("key", ""), folders, evening.shown)
        elif show == "eyes":
            told |= await asyncio.to_thread(_eyes, evening.home / "guests")
        elif show == "slips":
            told |= await asyncio.to_thread(_slips, evening.home / "guests")
        elif show == "laptop":
            told["rows"] = _laptop(kernels)
        self.finish(told)


def _guesses(key: str, folders: list[Any], shown: list[str]) -> dict[str, Any]:
    from workbook.hall.drawing import draw_guesses
    from workbook.hall.gather import asked, guesses
    from workbook.hall.truths import truth

    one = next((one for one in asked() if one.key == key), asked()[0])
    found = guesses(one, folders)
    true = truth(one.key) if one.key in shown else None
    told = {"words": found.sentence(), "counts": [*found.counts], "shown": one.key in shown}
    if one.key in shown and true is None:
        told["words"] += " Nobody knows this one: it depends on the picture, or on your own gear."
    return told | {"picture": draw_guesses(one, found, true)}


def _eyes(folder: Any) -> dict[str, Any]:
    from workbook.hall.drawing import draw_eyes
    from workbook.workshop.blind import ClassThreshold

    found = ClassThreshold(folder, renamed=False)
    words = found.sentence if found.answers or "left out" in found.sentence else "Nobody has picked a square yet."
    return {"words": words, "picture": draw_eyes(found.answers)}


def _slips(folder: Any) -> dict[str, Any]:
    from workbook.workshop.count import count

    found = count(folder, renamed=False)
    return {
        "words": " ".join(found.sentences()) if found.slips or found.damaged else "No slips yet.",
        "table": found.table().to_html(),
    }


def _laptop(kernels: Any) -> list[tuple[str, str]]:
    sizes = [kernels.memory_mb(seat.kernel) for seat in kernels.seats.values()]
    memory = psutil.virtual_memory()
    return [
        ("Pages that run", f"{len(sizes)} of {kernels.limits.kernels}"),
        ("Kernels that wait", str(kernels.ready)),
        ("Memory of a page", f"{max(sizes):.0f} MB at most" if sizes else "no page runs"),
        ("Memory left", f"{memory.available / _MB / 1024:.1f} of {memory.total / _MB / 1024:.1f} GB"),
        ("Work", f"{psutil.cpu_percent():.0f} % of {psutil.cpu_count()} cores"),
    ]


class Turn(Leader):
    """Open or close a page for all."""

    def post(self) -> None:
        """Do it."""
        page = self.get_body_argument("page", "")
        if page not in (*LESSONS, *PANELS):
            raise tornado.web.HTTPError(404)
        self.hall.evening.turn(page, self.get_body_argument("open", "") == "yes")
        self.set_status(204)


class Reveal(Leader):
    """Show or hide the truth of one question."""

    def post(self) -> None:
        """Do it."""
        from workbook.hall.gather import asked

        key = self.get_body_argument("key", "")
        if key not in {one.key for one in asked()}:
            raise tornado.web.HTTPError(404)
        self.hall.evening.reveal(key, self.get_body_argument("shown", "") == "yes")
        self.set_status(204)


def handlers() -> list[Any]:
    """The leader's addresses."""
    return [(r"/leader", Desk), (r"/leader/state", State), (r"/leader/turn", Turn), (r"/leader/reveal", Reveal)]
