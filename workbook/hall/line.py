"""The line between a page and its kernel: its owner's alone, and for widgets' messages alone."""

from __future__ import annotations

import json
from typing import Any

import tornado.web
from jupyter_core.utils import ensure_async
from jupyter_server.base.handlers import APIHandler
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from workbook.hall.evening import Guest
from workbook.hall.web import ForScripts, Guarded

__all__ = ["KernelModel", "Shutdown", "Socket"]

_WIDEST = 2**20
"""A message from a page is short. [byte]"""


class Own(Guarded, ForScripts):
    """A handler that answers only for the guest's own kernel."""

    def own(self, kernel: str) -> Guest:
        """The guest, or 403 for everybody else."""
        guest = self.guest()
        if guest is None or self.hall.kernels.seat_of(kernel).split(" ")[0] != guest.key:
            raise tornado.web.HTTPError(403)
        return guest


class KernelModel(Own, APIHandler):
    """What a page may know of its kernel: that it is there."""

    async def get(self, kernel: str) -> None:
        """Tell."""
        self.own(kernel)
        self.finish(json.dumps(self.kernel_manager.kernel_model(kernel), default=str))


class Socket(Own, VoilaKernelWebsocketHandler):
    """The line between a page and its kernel; the kernel manager lets only the widgets' messages through."""

    _seat = ""

    async def get(self, kernel_id: str) -> None:
        """Open it for the kernel's owner alone, and only from our own page."""
        if not self.same_origin():
            raise tornado.web.HTTPError(403)
        self.own(kernel_id)
        self._seat = self.hall.kernels.seat_of(kernel_id)
        await super().get(kernel_id)

    async def open(self, kernel_id: str) -> None:
        """Count it."""
        self.hall.kernels.sockets(self._seat, +1)
        await ensure_async(super().open(kernel_id))

    def on_message(self, message: Any) -> None:
        """Let it through, unless it is larger than any widget's."""
        if len(message) > _WIDEST:
            self.close(1009, "too long")
            return
        self.hall.kernels.touch(self._seat)
        super().on_message(message)

    def on_close(self) -> None:
        """Count it."""
        self.hall.kernels.sockets(self._seat, -1)
        if self.connection is not None:
            super().on_close()


class Shutdown(Own, APIHandler):
    """A page says that it is left; the kernel stays a while, for a reload or the next page."""

    def check_xsrf_cookie(self) -> None:
        """The browser sends this as a beacon; nothing is done on its word."""

    def post(self, _kernel: str) -> None:
        """Take note."""
        self.set_status(204)
