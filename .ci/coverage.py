"""Run tests and measure what they cover of the layers that compute: at least 95 % of it.

Lines and branches count. What is given on the command line goes to pytest.
"""

import subprocess
import sys

ROOMS = [
    "units", "parameters", "quantities", "glossary", "errors", "months", "yields", "substrate",
    "climate", "reservoir", "nutrients", "economics", "cautions", "catalog", "trials", "scenario",
    "uncertainty", "decide", "scale",
]  # fmt: skip
FLOOR = 95

command = [
    sys.executable, "-m", "pytest", *sys.argv[1:],
    *(f"--cov=scenariokit.{room}" for room in ROOMS),
    "--cov-branch", "--cov-report=term", f"--cov-fail-under={FLOOR}",
]  # fmt: skip
sys.exit(subprocess.call(command))
