"""Renew requirements.txt: install the `lab` extra into a new environment and write down what came.

Run it from the root of the repository with the Python of runtime.txt:
``python3.11 binder/pin.py``.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BUILD = ("hatchling",)
"""What postBuild needs to install scenariokit itself without asking for more."""


def main() -> None:
    """Install, list, write."""
    wanted = (ROOT / "binder" / "runtime.txt").read_text().strip().removeprefix("python-")
    here = f"{sys.version_info.major}.{sys.version_info.minor}"
    if here != wanted:
        sys.exit(f"runtime.txt says Python {wanted}; this is {here}")
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        python = str(Path(folder) / "bin" / "python")
        install = [python, "-m", "pip", "install", "-q", f"{ROOT}[lab]", *BUILD]
        subprocess.run(install, check=True)
        freeze = [python, "-m", "pip", "list", "--format=freeze", "--exclude=scenariokit",
                  "--exclude=pip", "--exclude=setuptools"]  # fmt: skip
        listed = subprocess.run(freeze, check=True, capture_output=True, text=True).stdout
    pins = sorted(line for line in listed.splitlines() if "==" in line)
    head = f"# Made by binder/pin.py with Python {here}; do not edit.\n"
    (ROOT / "binder" / "requirements.txt").write_text(head + "\n".join(pins) + "\n")
    print(f"binder/requirements.txt: {len(pins)} packages")


if __name__ == "__main__":
    main()
