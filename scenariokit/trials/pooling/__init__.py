"""Pooling: the plot records of many growers in one table, with where each row stood."""

from __future__ import annotations

from scenariokit.trials.pooling.pool import Pooled, pool
from scenariokit.trials.pooling.store import PooledFile

__all__ = ["Pooled", "PooledFile", "pool"]
