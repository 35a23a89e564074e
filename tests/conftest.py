"""What all tests share."""

from __future__ import annotations

import os

# Test processes share the cores already: threads of linear algebra on top of them only wait for
# each other. It must stand before NumPy is first imported; worker processes inherit it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
