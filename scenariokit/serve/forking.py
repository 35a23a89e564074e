"""Kernels forked from one warm process, behind the interface of ordinary ones."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from typing import Any

from jupyter_client.provisioning.local_provisioner import LocalProvisioner

START_SECONDS = 60.0
QUIET_LIBRARIES = {
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "JE_ARROW_MALLOC_CONF": "background_thread:false",
}
"""So that no library starts a thread when it is loaded; a kernel's arrays are small anyway."""
KERNEL_ARGUMENTS = ("--IPKernelApp.log_level=ERROR", "--HistoryManager.enabled=False")


class UnfitError(RuntimeError):
    """Kernels cannot be forked here; they can be started as usual."""


def can_fork() -> bool:
    """Return whether this system lets a loaded process be forked safely."""
    return sys.platform == "linux"


class WarmProcess:
    """The process that kernels are forked from, seen from the server.

    Parameters
    ----------
    memory : int
        How many bytes of its own a kernel may take on top of what is loaded;
        0 for no limit.
    """

    def __init__(self, memory: int = 0) -> None:
        self.memory = memory
        self.fit = False
        self._serial = 0
        self._asked: dict[int, asyncio.Future[ForkedKernel]] = {}
        self._ended: dict[int, asyncio.Future[int]] = {}
        self._process: subprocess.Popen[bytes] | None = None
        self._writer: asyncio.StreamWriter | None = None
        self._listening: asyncio.Task[None] | None = None
        self._ready: asyncio.Future[None] | None = None

    async def start(self) -> None:
        """Start it and wait until it has loaded.

        Raises
        ------
        UnfitError
            If it ends, takes too long, or may not be forked.
        """
        ours, its = socket.socketpair()
        self._process = subprocess.Popen(  # noqa: S603 - this program itself
            [sys.executable, "-m", "scenariokit.serve.warm_process", str(its.fileno())],
            pass_fds=[its.fileno()],
            stdin=subprocess.DEVNULL,
            env={**os.environ, **QUIET_LIBRARIES, "JPY_PARENT_PID": "0"},
        )
        its.close()
        reader, self._writer = await asyncio.open_connection(sock=ours)
        self._ready = asyncio.get_running_loop().create_future()
        self._listening = asyncio.create_task(self._listen(reader))
        try:
            await asyncio.wait_for(asyncio.shield(self._ready), START_SECONDS)
        except TimeoutError as error:
            self.stop()
            raise UnfitError("the warm process took too long to load") from error

    async def _listen(self, reader: asyncio.StreamReader) -> None:
        """Take in what it tells, until it ends."""
        why = "the warm process ended"
        while line := await reader.readline():
            told = json.loads(line)
            if "unfit" in told:
                why = str(told["unfit"])
            else:
                self._hear(told)
        self.fit = False
        for waiting in (self._ready, *self._asked.values()):
            if waiting is not None and not waiting.done():
                waiting.set_exception(UnfitError(why))
        for end in self._ended.values():
            if not end.done():
                end.set_result(-signal.SIGKILL)

    def _hear(self, told: dict[str, Any]) -> None:
        if "ready" in told and self._ready is not None:
            self.fit = True
            self._ready.set_result(None)
        elif "forked" in told:
            process = int(told["process"])
            end = self._ended[process] = asyncio.get_running_loop().create_future()
            kernel = ForkedKernel(process, end, self._order)
            self._asked.pop(int(told["forked"])).set_result(kernel)
        elif "ended" in told:
            self._ended.pop(int(told["ended"])).set_result(int(told["status"]))

    async def fork(self, connection_file: str, cwd: str, env: dict[str, str]) -> ForkedKernel:
        """Return a new kernel.

        Raises
        ------
        UnfitError
            If no kernel can be forked.
        """
        if not self.fit:
            raise UnfitError("the warm process has ended")
        self._serial += 1
        answer: asyncio.Future[ForkedKernel] = asyncio.get_running_loop().create_future()
        self._asked[self._serial] = answer
        self._order(
            fork=self._serial, cwd=cwd, env=env, memory=self.memory,
            arguments=["-f", connection_file, *KERNEL_ARGUMENTS],
        )  # fmt: skip
        return await answer

    def _order(self, **order: Any) -> None:
        if self._writer is not None and not self._writer.is_closing():
            self._writer.write(json.dumps(order).encode() + b"\n")

    def stop(self) -> None:
        """End it and every kernel that came from it."""
        self.fit = False
        if self._writer is not None:
            self._writer.close()
        if self._process is not None:
            try:
                self._process.wait(5)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()


class ForkedKernel:
    """A forked kernel, with as much of the interface of `subprocess.Popen` as is asked of it."""

    stdin = stdout = stderr = None

    def __init__(self, pid: int, end: asyncio.Future[int], order: Callable[..., None]) -> None:
        self.pid = pid
        self._end = end
        self._order = order

    def poll(self) -> int | None:
        """Return its exit status, None while it runs."""
        return self._end.result() if self._end.done() else None

    def wait(self) -> int | None:
        """Return its exit status; it is asked only after `poll` has told of the end."""
        return self.poll()

    def send_signal(self, number: int) -> None:
        """Send it a signal, through the process that knows whether it still is the same one."""
        self._order(process=self.pid, signal=int(number))

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)


class ForkingProvisioner(LocalProvisioner):
    """Starts a kernel by a fork where that can be, as usual where not."""

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> Any:
        """Start it."""
        manager: Any = self.parent
        kernels = manager.parent
        warm: WarmProcess | None = kernels.warm
        if warm is not None and warm.fit:
            try:
                forked: Any = await warm.fork(
                    os.path.realpath(manager.connection_file),
                    str(kwargs.get("cwd") or os.getcwd()),
                    {key: str(value) for key, value in kwargs["env"].items()},
                )
            except UnfitError as error:
                kernels.log.warning("Kernels are started one by one from now on: %s.", error)
            else:
                self.process, self.pid = forked, forked.pid
                return self.connection_info
        return await super().launch_kernel(cmd, **kwargs)
