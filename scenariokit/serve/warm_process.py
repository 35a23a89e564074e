"""The process that has everything loaded and divides itself into kernels.

Started by `scenariokit.serve.forking.WarmProcess`. It loads what a board needs
once, opens each app once for its caches, and then waits for orders: lines of
JSON on a socket. For each order it forks; the child becomes an ordinary kernel
that shares the loaded code with all others. No thread runs and no socket of a
kernel exists before a fork, which is what makes forking safe; a process in
which that is not so says that it is unfit, and kernels are started as usual.

It ends, and every kernel with it, when the socket closes.
"""

from __future__ import annotations

import gc
import json
import os
import select
import signal
import socket
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

PRELOADED = ("ipykernel.kernelapp", "ipykernel.ipkernel", "IPython.core.magics")
THREADS_OF = Path("/proc/self/task")
PR_SET_PDEATHSIG = 1
DATA_OF_STATM = 5
"""Which number of /proc/self/statm counts the pages that a process may write to."""


def load() -> None:
    """Import what a kernel needs, and open each app once so that its tables are read."""
    import importlib

    import ipywidgets

    from scenariokit.serve.offers import OFFERS

    for name in PRELOADED:
        importlib.import_module(name)
    for offer in OFFERS:
        for line in offer.warmed_by:
            module, _, function = line.partition(":")
            getattr(importlib.import_module(module), function)()
    ipywidgets.Widget.close_all()  # nothing of what was opened here is seen by anyone
    gc.collect()
    gc.freeze()  # so that a child's collector does not touch, and copy, what is shared


def unfit() -> str:
    """Return why this process must not be forked, or an empty text."""
    if threading.active_count() > 1:
        return f"{threading.active_count()} threads run"
    if THREADS_OF.is_dir() and (count := len(list(THREADS_OF.iterdir()))) > 1:
        return f"{count} threads of the system run"
    return ""


@dataclass
class Orders:
    """The socket on which orders come and on which is told what became of them."""

    channel: socket.socket
    woken: socket.socket
    children: set[int] = field(default_factory=set)
    _read: bytes = b""

    def tell(self, **said: Any) -> None:
        """Send one line."""
        self.channel.sendall(json.dumps(said).encode() + b"\n")

    def next(self) -> dict[str, Any] | None:
        """Return the next order; None when the socket has closed."""
        while b"\n" not in self._read:
            ready, _, _ = select.select([self.channel, self.woken], [], [])
            if self.woken in ready:
                self.woken.recv(4096)
                self._bury()
            if self.channel in ready:
                try:
                    more = self.channel.recv(65536)
                except ConnectionResetError:  # the server was killed; the end is the same
                    return None
                if not more:
                    return None
                self._read += more
        line, _, self._read = self._read.partition(b"\n")
        order: dict[str, Any] = json.loads(line)
        return order

    def _bury(self) -> None:
        """Take leave of children that have ended."""
        while self.children:
            process, status = os.waitpid(-1, os.WNOHANG)
            if process == 0:
                return
            self.children.discard(process)
            self.tell(ended=process, status=os.waitstatus_to_exitcode(status))

    def send_signal(self, process: int, number: int) -> None:
        """Send a signal to a child that has not been taken leave of; its number is still its own."""
        if process in self.children:
            os.kill(process, number)

    def end_all(self) -> None:
        """End every child."""
        for process in self.children:
            os.kill(process, signal.SIGKILL)
        for process in self.children:
            os.waitpid(process, 0)


def obey(orders: Orders) -> dict[str, Any] | None:
    """Work off orders; return one in the child that is to become a kernel, None at the end."""
    while (order := orders.next()) is not None:
        if "signal" in order:
            orders.send_signal(int(order["process"]), int(order["signal"]))
            continue
        why = unfit()
        if why:
            orders.tell(unfit=why)
            return None
        parent = os.getpid()
        process = os.fork()
        if process == 0:
            orders.channel.close()
            orders.woken.close()
            return {**order, "parent": parent}
        orders.children.add(process)
        orders.tell(forked=order["fork"], process=process)
    orders.end_all()
    return None


def end_with_parent(parent: int) -> None:
    """Have the system end this process when the one that forked it ends."""
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:
        os._exit(1)


def limit_memory(more_bytes: int) -> None:
    """Let this process take so much memory of its own on top of what it has, and no more.

    Counted is what it may write to. Address space would count what is only set aside, too: the
    engine that draws pictures of charts sets aside many times what a board may have.
    """
    import resource

    pages = int(Path("/proc/self/statm").read_text().split()[DATA_OF_STATM])
    most = pages * resource.getpagesize() + more_bytes
    resource.setrlimit(resource.RLIMIT_DATA, (most, most))


def become_kernel(order: dict[str, Any]) -> None:
    """Run a kernel in this forked child until it is told to end."""
    end_with_parent(order["parent"])
    os.setsid()
    with open(os.devnull, "wb") as nowhere:
        os.dup2(nowhere.fileno(), 1)  # else each kernel would print how to connect to it
    signal.set_wakeup_fd(-1)
    for number in (signal.SIGCHLD, signal.SIGTERM):
        signal.signal(number, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.environ.update(order["env"])
    os.chdir(order["cwd"])
    if order["memory"]:
        limit_memory(order["memory"])
    import ipywidgets
    import numpy as np
    from ipykernel.kernelapp import IPKernelApp

    from scenariokit.environment import LANGUAGE_VARIABLE
    from scenariokit.language import language, use_language

    np.random.seed()  # noqa: NPY002 - the state that every child would else have in common
    wanted = order["env"].get(LANGUAGE_VARIABLE, "")
    if wanted and wanted != language():
        use_language(wanted)
    app: Any = IPKernelApp.instance()
    app.initialize(order["arguments"])
    ipywidgets.register_comm_target()  # usually done when it is imported, with a kernel there
    app.start()


def main() -> None:
    """Load, say so, and obey."""
    channel = socket.socket(fileno=int(sys.argv[1]))
    waking, woken = socket.socketpair()
    waking.setblocking(False)
    signal.set_wakeup_fd(waking.fileno())
    signal.signal(signal.SIGCHLD, lambda _number, _frame: None)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one who started this one decides
    load()
    orders = Orders(channel, woken)
    why = unfit()
    if why:
        orders.tell(unfit=why)
        return
    orders.tell(ready=True)
    order = obey(orders)
    if order is not None:
        waking.close()
        become_kernel(order)


if __name__ == "__main__":
    main()
