"""Look at what this project stands on: known holes, and licences.

`python .ci/supply_chain.py` asks pip-audit about the environment that it runs in and about the
pinned hosted set-up, and compares the licences of all installed packages with `licences.txt`.
A known hole, or a licence that is not allowed, is a failure. Where the service of known holes
does not answer, that is said, and nothing is claimed: such a run has not been audited.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
OURS = "scenariokit"
ALLOWED = ROOT / ".ci" / "licences.txt"
PINNED = ROOT / "binder" / "requirements.txt"


class NotAnsweredError(RuntimeError):
    """The service of known holes did not answer."""


def said_by_audit(arguments: Sequence[str]) -> list[dict[str, Any]]:
    """Return what pip-audit says of each package."""
    command = [sys.executable, "-m", "pip_audit", "-f", "json", "--progress-spinner", "off",
               "--timeout", "15", *arguments]  # fmt: skip
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    try:
        return list(json.loads(ran.stdout)["dependencies"])
    except (ValueError, KeyError) as error:
        last = (ran.stderr.strip().splitlines() or ["it said nothing"])[-1]
        raise NotAnsweredError(re.sub(r"\(.*", "", last)) from error


def holes(rows: Iterable[Mapping[str, Any]]) -> tuple[list[str], list[str], int]:
    """Return known holes, packages that nothing is known of, and how many were audited.

    >>> holes([{"name": "one", "version": "1", "vulns": [{"id": "X-1", "fix_versions": ["2"]}]},
    ...        {"name": "two", "skip_reason": "not found"}, {"name": "three", "vulns": []}])
    (['one 1: X-1, mended in 2'], ['two'], 2)
    """
    found, unknown, audited = [], [], 0
    for row in rows:
        if "skip_reason" in row:
            unknown += [] if row["name"] == OURS else [str(row["name"])]
            continue
        audited += 1
        for hole in row["vulns"]:
            mended = " or ".join(hole["fix_versions"]) or "no version yet"
            found.append(f"{row['name']} {row['version']}: {hole['id']}, mended in {mended}")
    return found, unknown, audited


def audit(what: str, arguments: Sequence[str]) -> list[str]:
    """Print what is known of these packages; return the holes."""
    try:
        found, unknown, audited = holes(said_by_audit(arguments))
    except NotAnsweredError as error:
        print(f"{what}: NOT AUDITED, the service of known holes is not reachable ({error})")
        return []
    if not audited:
        print(f"{what}: NOT AUDITED, the service of known holes knows none of {len(unknown)} "
              "packages, so it is not reachable from here")  # fmt: skip
        return []
    print(f"{what}: {audited} packages audited, {len(found)} known holes")
    if unknown:
        print(f"{what}: not audited, unknown to the service: {', '.join(unknown)}")
    return found


def allowed() -> tuple[set[str], dict[str, str]]:
    """Return the licences that are allowed, and those of packages that state none."""
    lines = [line.strip() for line in ALLOWED.read_text(encoding="utf-8").splitlines()]
    lines = [line for line in lines if line and not line.startswith("#")]
    read = dict(line.split(": ", 1) for line in lines if ": " in line)
    return {line for line in lines if ": " not in line}, read


def may_stand(licence: str, among: set[str]) -> bool:
    """Return whether a licence, or a choice or sum of several, is allowed.

    >>> may_stand("MIT AND (Apache-2.0 OR GPL-3.0)", {"MIT", "Apache-2.0"})
    True
    >>> may_stand("MIT AND GPL-3.0", {"MIT"}), may_stand("MIT; BSD License", {"MIT"})
    (False, False)
    """
    if licence in among:
        return True
    inner = re.search(r"\(([^()]*)\)", licence)
    if inner and re.search(r" (AND|OR) ", inner[1]):
        stands = may_stand(inner[1], among)
        replaced = licence.replace(inner[0], "yes" if stands else "no", 1)
        return may_stand(replaced, among | {"yes"})
    choices = re.split(r" OR ", licence)
    if len(choices) > 1:
        return any(may_stand(one, among) for one in choices)
    parts = re.split(r" AND |; ", licence)
    return len(parts) > 1 and all(may_stand(one, among) for one in parts)


def licences() -> list[str]:
    """Print how many packages were looked at; return those whose licence is not allowed."""
    command = [sys.executable, "-m", "piplicenses", "--from=mixed", "--format=json",
               "--with-system"]  # fmt: skip
    rows = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    among, read = allowed()
    wrong = []
    for row in rows:
        stated = row["License"]
        licence = read.get(row["Name"], stated) if stated in ("UNKNOWN", "") else stated
        if row["Name"] != OURS and not may_stand(licence, among):
            wrong.append(f"{row['Name']} {row['Version']}: {licence} is not in {ALLOWED.name}")
    print(f"licences: {len(rows)} packages, {len(wrong)} not allowed")
    return wrong


def main() -> int:
    """Audit, compare, and fail on what was found."""
    wrong = audit("this environment", ["--local"])
    wrong += audit("the hosted set-up", ["-r", str(PINNED), "--no-deps", "--disable-pip"])
    wrong += licences()
    for line in wrong:
        print(line)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
