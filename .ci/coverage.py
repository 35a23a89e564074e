"""Run tests and measure what they cover of the layers that compute: at least 95 % of it.

Lines count; with ``--branches`` as the first word branches do, too, which takes twice the
time before Python 3.14. What else is given on the command line goes to pytest.
"""

import os
import subprocess
import sys

ROOMS = [
    "units", "parameters", "quantities", "glossary", "errors", "months", "yields", "substrate",
    "climate", "reservoir", "nutrients", "economics", "cautions", "catalog", "trials", "scenario",
    "uncertainty", "decide", "scale",
]  # fmt: skip
FLOOR = 95

asked = sys.argv[1:2] == ["--branches"]
tests = sys.argv[1 + asked :]
branches = asked or sys.version_info >= (3, 14)
measured = [f"--cov=scenariokit.{room}" for room in ROOMS] + ["--cov-branch"] * branches
report = ["--cov-report=term", f"--cov-fail-under={FLOOR}"]
# Python itself tells which lines run, from 3.12 on, and branches from 3.14 on: nearly for nothing.
by_python = sys.version_info >= (3, 14) or (sys.version_info >= (3, 12) and not branches)
environment = {**os.environ, **({"COVERAGE_CORE": "sysmon"} if by_python else {})}
print("counted: lines and branches" if branches else "counted: lines", flush=True)
sys.exit(
    subprocess.call([sys.executable, "-m", "pytest", *tests, *measured, *report], env=environment)
)
