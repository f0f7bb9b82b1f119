"""The server of pages: Voilà's machinery, with our own list of what may be asked for."""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import tornado.ioloop
import tornado.template
import tornado.web
from jupyter_server.base.handlers import FileFindHandler
from jupyterlab_server.themes_handler import ThemesHandler
from voila.app import Voila
from voila.configuration import VoilaConfiguration
from voila.static_file_handler import MultiStaticFileHandler
from voila.utils import get_voila_labextensions_path

from workbook.hall import leader, line, web
from workbook.hall.evening import LESSONS, PANELS, START, Evening, Guest
from workbook.hall.kernels import WIDGET_MESSAGES, Kernels, Limits
from workbook.hall.pages import title_of
from workbook.hall.tries import Tries
from workbook.lab.wire import PromptConnection

__all__ = ["Hall"]

HERE = Path(__file__).resolve().parent
LAB = HERE.parent / "lab"
_KERNEL = r"([\w-]{36})"
_WATCH_MS = 5000
_BAR = tornado.template.Template((HERE / "html" / "bar.html").read_text(encoding="utf-8"))


class Hall(Voila):
    """Pages for a hall, or for oneself.

    Attributes
    ----------
    evening : Evening
    limits : Limits
    alone : Guest or None
        The one reader of one's own machine; None in a hall.
    open_doors : callable
        Called once it listens: whoever is told the address before may find nobody there.
    """

    name = "hall"
    evening: Evening
    limits: Limits
    alone: Guest | None = None
    alone_folder: Path
    open_doors: Callable[[], None]

    @classmethod
    def make(cls, evening: Evening, limits: Limits, *, address: str, port: int, alone: Path | None = None) -> Hall:
        """Put the parts together; nothing listens yet.

        Parameters
        ----------
        evening : Evening
        limits : Limits
        address : str
            Of the network card to listen on.
        port : int
        alone : pathlib.Path, optional
            The reader's folder, where this serves one reader on this machine.
        """
        # A kernel that runs this very Python and imports nothing from the folder that it is in.
        os.environ["JUPYTER_PATH"] = os.pathsep.join(
            filter(None, [str(HERE / "jupyter"), str(LAB), os.environ.get("JUPYTER_PATH")])
        )
        hall = cls(config_file_paths=[], log_level=logging.ERROR)
        # Telephones ask for icons that there are not; a line for each would push the codes out of the leader's window.
        logging.getLogger("tornado").setLevel(logging.ERROR)
        logging.getLogger("tornado.access").setLevel(logging.CRITICAL)  # a hall that is full says so in the browser
        hall.initialize([])
        hall.voila_configuration = VoilaConfiguration(
            parent=hall, allow_template_override="NO", allow_theme_override="NO", template="lab", theme="light",
            extension_denylist=["expocalc-lab", "jupyterlab_pygments"],
        )  # fmt: skip
        hall.setup_template_dirs()
        hall.template_paths.insert(0, str(HERE / "page"))
        hall.evening, hall.limits, hall.ip, hall.port, hall.open_browser = evening, limits, address, port, False
        hall.cookie_secret = evening.secret.encode()
        hall.tries = Tries()
        if alone is not None:
            hall.alone, hall.alone_folder = Guest(name="you", number="", key="alone"), alone
            evening.guests = {"alone": hall.alone}
        return hall

    def init_settings(self) -> dict[str, Any]:
        """Voilà's settings and ours."""
        settings = super().init_settings()
        self.kernel_manager.allowed_message_types = WIDGET_MESSAGES
        self.kernels = Kernels(self.kernel_manager, self.limits, self.evening.home, fenced=self.alone is None)
        return settings | {
            "hall": self,
            "kernel_websocket_connection_class": PromptConnection,
            "compress_response": True,
            "websocket_max_message_size": 2**21,
            "websocket_ping_interval": 20,
            "default_handler_class": Missing,
            "allow_origin": "",
        }

    def init_handlers(self) -> list[Any]:
        """All that can be asked for; no file browser, no terminal, no other way to a kernel."""
        from bokeh.util.paths import bokehjs_path

        page = {
            "voila_configuration": self.voila_configuration,
            "template_paths": self.template_paths,
            "config": self.config,
        }
        labextensions = get_voila_labextensions_path(self.voila_configuration.extra_labextensions_path)
        files = tornado.web.StaticFileHandler
        theirs = [
            (r"/my-evening\.zip", web.Home),
            (r"/alive", web.Alive),
            (rf"/api/kernels/{_KERNEL}", line.KernelModel),
            (rf"/api/kernels/{_KERNEL}/channels", line.Socket),
            (rf"/voila/api/shutdown/{_KERNEL}", line.Shutdown),
            (r"/voila/(?:templates/lab/)?static/(.*)", MultiStaticFileHandler, {"paths": self.static_paths}),
            (
                r"/voila/api/themes/(.*)",
                ThemesHandler,
                {"themes_url": "/voila/api/themes", "path": self.themes_dir, "labextensions_path": labextensions},
            ),
            (r"/voila/labextensions/(.*)", Extensions, {"path": labextensions}),
            (r"/static/js/(bokeh[\w.-]*\.js)", files, {"path": str(Path(bokehjs_path()) / "js")}),
            (r"/hall/static/(.*)", files, {"path": str(HERE / "static")}),
        ]
        leaders = [] if self.alone else [(r"/join", web.Join), *leader.handlers()]
        return [*theirs, *leaders, (r"/((?:workshop/)?[\w-]+\.ipynb)", web.Page, page), (r"/()", web.Page, page)]

    def listen(self) -> None:
        """Listen on the one address that was picked, start the kernels that wait, and serve until Ctrl-C."""
        self.ioloop = tornado.ioloop.IOLoop.current()
        self._end_on_signals()
        server = self.app.listen(self.port, self.ip, max_body_size=2**16, xheaders=False)
        self.open_doors()
        watch = tornado.ioloop.PeriodicCallback(self.kernels.watch, _WATCH_MS)
        self.ioloop.add_callback(self.kernels.keep_filled)
        watch.start()
        self.ioloop.start()
        watch.stop()
        server.stop()
        self.ioloop.run_sync(self.kernels.close)
        self.stop()

    def _end_on_signals(self) -> None:
        """Ctrl-C, or a closed window, asks the loop to end, as SIGTERM does already.

        By itself Ctrl-C raises an exception wherever Python is just then: amid the start of a kernel, or in the loop's
        own code, which so loses what it was about to do and may wait for it for ever.
        """
        # Windows has no SIGHUP
        numbers = [getattr(signal, name) for name in ("SIGINT", "SIGHUP") if hasattr(signal, name)]
        before = {number: signal.getsignal(number) for number in numbers}

        def end(number: int, _: object) -> None:
            signal.signal(number, before[number])  # a second one waits for nothing
            self.ioloop.add_callback(self.ioloop.stop)

        for number in numbers:
            signal.signal(number, end)

    def may_see(self, name: str) -> bool:
        """Whether a page is open."""
        return self.alone is not None or self.evening.is_open(name)

    def folder(self, guest: Guest) -> Path:
        """Where a guest's files lie."""
        return self.alone_folder if self.alone else self.evening.folder(guest)

    def seat_key(self, guest: Guest, name: str) -> str:
        """Under which a guest's kernel is kept: one for all pages in a hall, one for each page on one's own machine."""
        return f"{guest.key} {name}" if self.alone else guest.key

    def bar(self, guest: Guest, name: str) -> str:
        """The strip above each page: who one is, the open pages, the file to take home."""
        shown = (
            [START, *PANELS, *LESSONS]
            if self.alone
            else [START, *(one for one in (*LESSONS, *PANELS) if self.may_see(one))]
        )
        pages = [(one, title_of(one)) for one in shown]
        return _BAR.generate(guest=None if self.alone else guest, here=name, pages=pages).decode()


class Missing(web.Front):
    """Whatever else is asked for."""

    def prepare(self) -> None:
        """Say that there is no such page."""
        super().prepare()
        self.say("No such page", "There is nothing under this address.", 404, ("/", "To the start"))


class Extensions(web.ForScripts, FileFindHandler):
    """Scripts of the widgets and of the plots; anybody may have them."""

    def prepare(self) -> None:
        """No sign-in."""

    def get_current_user(self) -> str:
        """Anybody."""
        return "anybody"
