"""Kernels of a room: where they come from, and what may be said to them."""

from __future__ import annotations

import asyncio
from typing import Any

from jupyter_core.utils import ensure_async
from jupyter_server.services.kernels.kernelmanager import (
    AsyncMappingKernelManager,
    ServerKernelManager,
)
from traitlets import Any as AnyTrait
from traitlets import Bool, default

from scenariokit.serve.forking import ForkingProvisioner

ALLOWED_MESSAGES = (
    "comm_open",
    "comm_msg",
    "comm_close",
    "comm_info_request",
    "kernel_info_request",
)
"""All that a page says to its kernel. None of them runs code that a page sends."""


class RoomKernel(ServerKernelManager):
    """One kernel. A dead one stays dead: its page says so and offers a new one."""

    autorestart = Bool(False)

    async def _async_pre_start_kernel(self, **kw: Any) -> Any:
        """Choose how it is started."""
        self.kernel_id = self.kernel_id or str(kw.pop("kernel_id"))
        if self.provisioner is None:
            self.provisioner = ForkingProvisioner(
                parent=self, kernel_id=self.kernel_id, kernel_spec=self.kernel_spec
            )
        return await super()._async_pre_start_kernel(**kw)


class RoomKernels(AsyncMappingKernelManager):
    """All kernels of a server."""

    warm: Any = AnyTrait(None, allow_none=True)
    """The `WarmProcess` that kernels are forked from, if there is one."""

    @default("kernel_manager_class")
    def _default_kernel_manager_class(self) -> str:
        return f"{RoomKernel.__module__}.{RoomKernel.__qualname__}"

    async def is_running(self, kernel_id: str) -> bool:
        """Return whether a kernel is there and its process lives."""
        return kernel_id in self and bool(await ensure_async(self.get_kernel(kernel_id).is_alive()))

    def process_of(self, kernel_id: str) -> int:
        """Return the process id of a kernel, 0 if there is none."""
        if kernel_id not in self:
            return 0
        provisioner = self.get_kernel(kernel_id).provisioner
        return int(getattr(provisioner, "pid", None) or 0)

    async def end(self, kernel_id: str) -> None:
        """End a kernel at once; does nothing if it is not there."""
        if kernel_id in self:
            manager: Any = self
            await ensure_async(manager.shutdown_kernel(kernel_id, now=True))

    async def end_all(self) -> None:
        """End every kernel at once; one that failed to start has nothing to end, and that is logged."""
        manager: Any = self
        kernels = {*self.list_kernel_ids(), *self._pending_kernels}
        ends = [ensure_async(manager.shutdown_kernel(one, now=True)) for one in kernels]
        for failed in await asyncio.gather(*ends, return_exceptions=True):
            if isinstance(failed, BaseException):
                self.log.warning("A kernel was not ended in the usual way: %s", failed)
