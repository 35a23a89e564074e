"""Serve the comparison board to a browser on this computer."""

from __future__ import annotations

from scenariokit.serve.server import BOARD_NOTEBOOK, BoardServer, RoomWish, ServeError, serve

__all__ = ["BOARD_NOTEBOOK", "BoardServer", "RoomWish", "ServeError", "serve"]
