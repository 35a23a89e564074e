"""One server: its kernels, its boards and the addresses at which it answers."""

from __future__ import annotations

import asyncio
import logging
import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import tornado.httpserver
import tornado.web
from jupyter_core.utils import ensure_async
from voila.app import Voila
from voila.paths import collect_static_paths
from voila.utils import get_voila_labextensions_path

from scenariokit.catalog.tables import MAX_BYTES
from scenariokit.environment import CODE_VARIABLE, LANGUAGE_VARIABLE, WALL_VARIABLE
from scenariokit.serve.boards import Boards
from scenariokit.serve.early_files import CODE, CodeFile, code_addresses
from scenariokit.serve.forking import UnfitError, WarmProcess, can_fork
from scenariokit.serve.guard import Admission, Nothing, RoomIdentity
from scenariokit.serve.kernels import ALLOWED_MESSAGES, RoomKernels
from scenariokit.serve.limits import Limits
from scenariokit.serve.lobby import Lobby
from scenariokit.serve.offers import Offer, offer_of, offers_of_a_room
from scenariokit.serve.page_server import PAGE_PARTS
from scenariokit.serve.pages import BoardPage, KernelModel, Leave, Unheard
from scenariokit.serve.rendering import PageMaker
from scenariokit.serve.sockets import PING_SECONDS, KernelChannels, News
from scenariokit.serve.static_files import FrameFile
from scenariokit.serve.watch import Watch

KERNEL_ID = r"([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})"
NAMED_KERNEL_ID = KERNEL_ID.replace("(", "(?P<kernel_id>", 1)
MESSAGE_OVERHEAD = 1_000_000
"""What a message may have besides the file that it carries."""
REQUEST_BYTES = 100_000
"""No request has a body worth mentioning: files come over the kernel's channels."""
MAKE_SECONDS = 90.0


class Frame(Voila):  # type: ignore[misc]
    """Voila's settings and templates, without its addresses and its start."""

    def initialize_frame(self, config: Any, folder: str) -> None:
        """Load templates; nothing is read from files of settings or the command line."""
        self.update_config(config)
        self.config_file_paths: Any = []
        self.connection_dir = folder
        self.initialize([])


class Room:
    """One server.

    Parameters
    ----------
    asked : dict
        What `scenariokit.serve.server.BoardServer` asks for.
    config : traitlets.config.Config
        Voila's settings.
    """

    def __init__(self, asked: dict[str, Any], config: Any) -> None:
        self._asked = asked
        self._offers: tuple[Offer, ...] = (
            offers_of_a_room(os.environ.get(WALL_VARIABLE, ""))
            if asked["room"]
            else (offer_of(Path(asked["notebook"])),)
        )
        self.limits = Limits(**asked["limits"])
        # Short, because sockets are kept in it and the system bounds the length of their path.
        self._folder = tempfile.mkdtemp(prefix="sk-")
        os.environ["IPYTHONDIR"] = str(Path(self._folder) / "ipython")
        self._frame = Frame()
        self._frame.initialize_frame(config, self._folder)
        # Said by clients whose context another one still uses; it is destroyed with the last.
        self._frame.log.addFilter(lambda record: "destroy zmq context" not in record.getMessage())
        self._frame.root_dir = str(self._offers[0].notebook.parent)
        self._warm: WarmProcess | None = None
        self._server: tornado.httpserver.HTTPServer | None = None
        self._watching: asyncio.Task[None] | None = None
        self._makers: dict[Offer, PageMaker] = {}

    # -- the beginning -----------------------------------------------------------------

    async def open(self) -> None:
        """Start to listen; the first boards are made, and people wait for them, from then on."""
        app = self._application()
        for offer in self._offers:
            self._makers[offer] = PageMaker(self._frame, offer)
            await self._makers[offer].prepare()
        app.add_handlers(r".*", self._addresses())
        self._server = tornado.httpserver.HTTPServer(
            app, max_buffer_size=REQUEST_BYTES + MAX_BYTES, max_body_size=REQUEST_BYTES
        )
        self._server.listen(self._asked["port"], self._asked["host"])
        self._watching = asyncio.create_task(self._look_after())

    async def _look_after(self) -> None:
        """Make the first boards, and look after all of them from then on."""
        if self._asked["forks"] and can_fork():
            await self._warm_up()
        self.boards.begin()
        await Watch(self.boards, self.kernels).run()

    async def _warm_up(self) -> None:
        """Start the process that kernels are forked from; do without if it cannot be."""
        self._warm = warm = WarmProcess(2 * self.limits.board_bytes)
        try:
            await warm.start()
        except UnfitError as error:
            logging.getLogger(__name__).warning("Kernels are started one by one: %s.", error)
            warm.stop()
        else:
            self.kernels.warm = warm

    def _application(self) -> tornado.web.Application:
        """Return the application, with kernels and boards in its settings."""
        frame, asked = self._frame, self._asked
        frame.voila_configuration.multi_kernel_manager_class = RoomKernels
        settings = frame.init_settings()
        admission = Admission.at(asked["host"], asked["port"], asked["token"])
        self.kernels: RoomKernels = settings["kernel_manager"]
        self.kernels.allowed_message_types = list(ALLOWED_MESSAGES)
        self.boards = Boards(
            self, self.limits, self._offers, refills=asked["room"], language=asked["language"]
        )
        app = tornado.web.Application(
            **{
                **settings,
                "admission": admission,
                "boards": self.boards,
                "language": asked["language"],
                "cookie_secret": admission.cookie_secret,
                "identity_provider": RoomIdentity(parent=frame, token=""),
                "default_handler_class": Nothing,
                "websocket_ping_interval": PING_SECONDS,
                "websocket_ping_timeout": PING_SECONDS,
                "websocket_max_message_size": MAX_BYTES + MESSAGE_OVERHEAD,
                "websocket_compression_options": {"compression_level": 3},
                "log_function": _log_nothing,
            }
        )
        frame.app = app
        return app

    def _addresses(self) -> list[Any]:
        """Return every address that is answered, and by what."""
        template = collect_static_paths(["voila", "nbconvert"], "scenariokit")
        frame_files = [Path(path).absolute() for path in (*template, *self._frame.static_paths)]
        parts = [Path(path).absolute() for path in get_voila_labextensions_path()]
        names = "|".join(PAGE_PARTS)
        answered: list[Any] = [
            (rf"/api/kernels/{NAMED_KERNEL_ID}/channels", KernelChannels),
            (rf"/api/kernels/{KERNEL_ID}", KernelModel),
            (rf"/room/news/{KERNEL_ID}", News),
            (rf"/room/leave/{KERNEL_ID}", Leave),
            (rf"/voila/api/shutdown/{KERNEL_ID}", Unheard),
            (r"/voila/static/(.*)", FrameFile, {"roots": frame_files}),
            (r"/voila/templates/scenariokit/static/(.*)", FrameFile, {"roots": frame_files}),
            (rf"{CODE}(.*)", CodeFile),
            (rf"/voila/labextensions/((?:{names})/.*)", FrameFile, {"roots": parts}),
        ]
        pages = [(offer, {"offer": offer, "maker": self._makers[offer]}) for offer in self._offers]
        if not self._asked["room"]:
            return [*answered, (r"/", BoardPage, pages[0][1])]
        lobby = {"offers": self._offers, "address": self._asked["address"]}
        answered.append((r"/", Lobby, lobby))
        return [*answered, *((rf"/{offer.name}", BoardPage, given) for offer, given in pages)]

    # -- making and ending boards --------------------------------------------------------

    async def make(self, offer: Offer, language: str) -> tuple[str, str]:
        """Return the id of a new kernel and the rest of its page."""
        maker = self._makers[offer]
        env = {
            **os.environ,
            LANGUAGE_VARIABLE: language,
            CODE_VARIABLE: code_addresses(),
        }
        kernel_id: str = await ensure_async(
            self.kernels.start_kernel(
                kernel_name=maker.kernel_name, cwd=str(offer.notebook.parent), env=env
            )
        )
        try:
            kernel = self.kernels.get_kernel(kernel_id)
            rest = await asyncio.wait_for(maker.rest(kernel_id, kernel), MAKE_SECONDS)
            if not await self.kernels.is_running(kernel_id):
                raise RuntimeError(f"the kernel of {offer.name} ended while its page was made")
        except BaseException:
            await self.kernels.end(kernel_id)
            raise
        return kernel_id, rest

    async def end(self, kernel_id: str) -> None:
        """End a kernel."""
        await self.kernels.end(kernel_id)

    # -- the end -------------------------------------------------------------------------

    async def say_goodbye(self) -> None:
        """Let nobody in, tell every page, and give them time to save."""
        if self.boards.refuse_more():
            end = asyncio.get_running_loop().time() + self.limits.farewell_seconds
            while self.boards.given and asyncio.get_running_loop().time() < end:
                await asyncio.sleep(0.1)

    async def close(self) -> None:
        """Stop to listen and end every kernel."""
        if self._watching is not None:
            self._watching.cancel()
            with suppress(asyncio.CancelledError):
                await self._watching
        if self._server is not None:
            self._server.stop()
        if hasattr(self, "boards"):
            await self.boards.close()
            await self.kernels.end_all()
        if self._warm is not None:
            self._warm.stop()
        shutil.rmtree(self._folder, ignore_errors=True)


def _log_nothing(_handler: tornado.web.RequestHandler) -> None:
    """Write no line for a request: addresses hold tokens, and a log outlives a room."""
