"""Benchmarks use the browser that the browser tests use."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

HARNESS = Path(__file__).parents[1] / "browser" / "conftest.py"
spec = importlib.util.spec_from_file_location("browser_harness", HARNESS)
assert spec is not None
assert spec.loader is not None
harness = importlib.util.module_from_spec(spec)
sys.modules["browser_harness"] = harness
sys.path.append(str(HARNESS.parent))  # for what it imports from beside it
spec.loader.exec_module(harness)

chromium = harness.chromium
served = harness.served
voila_page = harness.voila_page
notebook_of = harness.notebook_of
