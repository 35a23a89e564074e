"""Measure the coverage of the layers that compute; at least 95 % of lines and branches."""

import subprocess
import sys

ROOMS = [
    "units", "parameters", "quantities", "glossary", "errors", "months", "yields", "substrate",
    "climate", "reservoir", "nutrients", "economics", "cautions", "catalog", "trials", "scenario",
    "uncertainty", "decide", "scale",
]  # fmt: skip
FLOOR = 95

command = [
    sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-o", "addopts=",
    "--doctest-modules", "--numprocesses=auto", "--dist=loadfile", "-p", "no:benchmark",
    "--ignore=tests/benchmarks", "--ignore=tests/browser", "--ignore=tests/widgets",
    # These work in processes of their own, where nothing is counted.
    "--ignore=tests/serve", "--ignore=tests/test_notebooks.py", "--ignore=tests/binder",
    "tests", "scenariokit",
    *(f"--cov=scenariokit.{room}" for room in ROOMS),
    "--cov-branch", "--cov-report=term", f"--cov-fail-under={FLOOR}",
]  # fmt: skip
sys.exit(subprocess.call(command))
