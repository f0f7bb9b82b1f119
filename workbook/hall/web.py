"""What a guest's browser can ask for: coming in, a page, files to take home; `line` has the page's own kernel."""

from __future__ import annotations

import asyncio
import hmac
from pathlib import Path
from typing import Any

import tornado.web
from voila.handler import VoilaHandler
from voila.utils import get_page_config

from workbook.hall.evening import LESSONS, PANELS, START, Guest
from workbook.hall.home import pack
from workbook.hall.kernels import Full, Seat
from workbook.hall.pages import PageRenderer, names, title_of

__all__ = ["Alive", "ForScripts", "Front", "Guarded", "Home", "Join", "Page", "policy"]

COOKIE, LEADER_COOKIE = "hall-guest", "hall-leader"
_DAYS = 2


def policy(host: str) -> str:
    """Content security policy: a page loads from, and talks to, the laptop that served it and nobody else."""
    return (
        "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        f"img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws://{host} data: blob:; "
        "worker-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    )


class Guarded:
    """What all handlers share: who asks, and what leaves with the answer."""

    @property
    def hall(self) -> Any:
        """The server."""
        return self.settings["hall"]

    def guest(self) -> Guest | None:
        """Who asks, by the cookie that this evening signed."""
        key = self.get_signed_cookie(COOKIE, max_age_days=_DAYS)
        return self.hall.evening.guests.get(key.decode()) if key else None

    def is_leader(self) -> bool:
        """Whether the leader's code was typed in this browser."""
        kept = self.get_signed_cookie(LEADER_COOKIE, max_age_days=_DAYS)
        return bool(kept) and kept.decode() == self.hall.evening.leader

    def remember(self, cookie: str, value: str) -> None:
        """Sign a cookie that no script can read and no other site can send."""
        self.set_signed_cookie(cookie, value, expires_days=_DAYS, httponly=True, samesite="Strict", path="/")

    def harden(self) -> None:
        """Headers of every answer."""
        self.set_header("Content-Security-Policy", policy(self.request.host))
        self.set_header("X-Content-Type-Options", "nosniff")
        self.set_header("Referrer-Policy", "same-origin")
        self.set_header("Cache-Control", "no-store")

    def same_origin(self) -> bool:
        """Whether a form comes from our own page."""
        origin = self.request.headers.get("Origin")
        return origin in (None, f"http://{self.request.host}")


class ForScripts:
    """What only scripts ask for: an error is its number."""

    def write_error(self, status_code: int, **_: Any) -> None:
        """Tell it; Jupyter's own page wants a whole Jupyter around it, and would write into the leader's window."""
        self.finish(str(status_code))


class Front(Guarded, tornado.web.RequestHandler):
    """Base of the plain pages: coming in, and the leader's."""

    def prepare(self) -> None:
        """Refuse a form that another site sent."""
        self.harden()
        if self.request.method == "POST" and not self.same_origin():
            raise tornado.web.HTTPError(403)

    def get_template_path(self) -> str:
        """Our own templates; they escape what they show."""
        return str(Path(__file__).parent / "html")

    def say(self, title: str, sentence: str, status: int = 200, link: tuple[str, str] | None = None) -> None:
        """A page with one kind sentence."""
        self.set_status(status)
        self.render("kind.html", title=title, sentence=sentence, link=link, reload=False)

    def write_error(self, status_code: int, **_: Any) -> None:
        """An error is a kind page, not a traceback."""
        if status_code == 404:
            self.say("No such page", "There is nothing under this address.", 404, ("/", "To the start"))
        else:
            self.say(
                "That did not work",
                f"The leader's laptop could not answer ({status_code}).",
                status_code,
                ("/", "To the start"),
            )


class Join(Front):
    """The door: a code, and a guest is in; a name and a number, and a guest is back."""

    def get(self) -> None:
        """Show the form; the address in the leader's QR code brings the code along."""
        if self.guest():
            return self.redirect("/")
        self._form(code=self.get_query_argument("code", "")[:12])

    def post(self) -> None:
        """Take what was typed."""
        evening, tries, address = self.hall.evening, self.hall.tries, str(self.request.remote_ip)
        if (wait := tries.wait_s(address)) > 0:
            self.set_header("Retry-After", str(int(wait) + 1))
            return self._form(
                wrong=f"Too many wrong tries from here. Wait {int(wait) + 1} s, then try once more.", status=429
            )
        name, number = self.get_body_argument("name", "")[:60], self.get_body_argument("number", "")[:12]
        if name.strip():
            known = evening.named(name)
            if not tries.take(address, number, known.number if known else "\0"):
                return self._form(
                    name=name, wrong="That name and number don't belong together. Look at both again.", status=403
                )
            return self._enter(known)
        code = self.get_body_argument("code", "")[:12]
        if not tries.take(address, code.replace(" ", ""), evening.code):
            return self._form(
                wrong=f"{code.strip() or 'An empty box'} is not tonight's code. It stands on the wall: six digits.",
                status=403,
            )
        try:
            guest = evening.join()
        except OSError as error:
            return self.say(
                "Not just now",
                f"The leader's laptop can't make a folder for you ({error.strerror}). Tell the leader.",
                503,
            )
        if guest is None:
            return self.say(
                "The hall is full",
                f"All places are taken ({evening.most}), and more would be slow for all. Pair up: two see more than one.",
                503,
            )
        self._enter(guest)

    def _form(self, code: str = "", name: str = "", wrong: str = "", status: int = 200) -> None:
        self.set_status(status)
        self.render("join.html", code=code, name=name, wrong=wrong)

    def _enter(self, guest: Guest) -> None:
        self.remember(COOKIE, guest.key)
        self.redirect("/")


class Page(Guarded, VoilaHandler):
    """One notebook as a page, in the guest's own kernel and folder."""

    async def get(self, name: str = "") -> None:
        """Draw it."""
        hall, guest = self.hall, self.guest()
        token = self.get_query_argument("token", "")
        if hall.alone and hmac.compare_digest(token.encode(), hall.evening.leader.encode()):
            self.remember(COOKIE, hall.alone.key)
            return self.redirect(self.request.path)
        if guest is None and hall.alone:
            return self._kind("Whose pages?", "Open the address that the workbook's window printed.", status=403)
        if guest is None:
            return self.redirect("/join")
        name = name or START
        if name not in names():
            raise tornado.web.HTTPError(404)
        if not hall.may_see(name) and name not in (*LESSONS, *PANELS):
            return self._kind("The leader's page", "This one is for whoever leads the evening.", status=403)
        if not hall.may_see(name):
            return self._kind(
                "Not yet", f"“{title_of(name)}” is not open yet. The leader opens it for all.", reload=True
            )
        self.harden()
        self.set_header("Content-Type", "text/html; charset=utf-8")
        seat_key = hall.seat_key(guest, name)
        async with hall.kernels.lock(seat_key):
            home = hall.folder(guest)
            try:
                seat = await hall.kernels.sit(seat_key, home, (home / name).parent)
            except Full:
                return self._kind(
                    "One moment",
                    "So many are drawing just now that the laptop needs a breath. Your things are kept.",
                    reload=True,
                    status=503,
                )
            hall.evening.where[guest.key] = name
            async for html in self._draw(name, seat, guest):
                self.write(html)
                await self.flush()
        hall.kernels.touch(seat_key)

    async def _draw(self, name: str, seat: Seat, guest: Guest) -> Any:
        config = get_page_config(
            base_url=self.base_url, settings=self.settings, log=self.log, voila_configuration=self.voila_configuration
        )
        renderer = PageRenderer(
            request_handler=self, voila_configuration=self.voila_configuration, traitlet_config=self.traitlet_config,
            notebook_path=name, template_paths=self.template_paths, config_manager=self.config_manager,
            contents_manager=self.contents_manager, base_url=self.base_url, page_config=config,
            kernel_spec_manager=self.kernel_spec_manager,
        )  # fmt: skip
        await renderer.initialize(template=None, theme=None)
        renderer.resources["hall_bar"] = self.hall.bar(guest, name)
        renderer.resources["hall_drawn"] = seat.drawn
        async for html, _ in renderer.generate_content_generator(
            seat.kernel, self.kernel_manager.get_kernel(seat.kernel)
        ):
            yield html

    def _kind(self, title: str, sentence: str, *, reload: bool = False, status: int = 200) -> None:
        self.harden()
        self.set_status(status)
        html = (Path(__file__).parent / "html" / "kind.html").read_text(encoding="utf-8")
        page = tornado.template.Template(html).generate(
            title=title, sentence=sentence, link=("/", "To the start"), reload=reload
        )
        self.finish(page)

    def write_error(self, status_code: int, **_: Any) -> None:
        """An error is a kind page, not a traceback."""
        sentence = (
            "There is nothing under this address."
            if status_code == 404
            else "The page could not be drawn. What you typed is kept."
        )
        self._kind("That did not work", sentence, status=status_code)


class Alive(Front):
    """Whether a page is still connected to anything; it asks every few seconds."""

    def get(self) -> None:
        """Tell."""
        guest = self.guest()
        kernel, drawn = self.get_query_argument("kernel", ""), self.get_query_argument("drawn", "")
        page = self.get_query_argument("page", "") or START
        seated = guest is not None and drawn.isdecimal() and self.hall.kernels.shows(kernel, int(drawn))
        self.finish({"seated": seated, "open": self.hall.may_see(page)})


class Home(Front):
    """A guest's things, as one file to take home."""

    async def get(self) -> None:
        """Pack them."""
        guest = self.guest()
        if guest is None:
            return self.redirect("/join")
        packed = await asyncio.to_thread(pack, self.hall.folder(guest))
        self.set_header("Content-Type", "application/zip")
        self.set_header("Content-Disposition", f'attachment; filename="{guest.folder}.zip"')
        self.finish(packed)
