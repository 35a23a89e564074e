"""``python -m scenariokit.wording notebooks`` brings the catalogues up to date."""

from __future__ import annotations

import sys
from pathlib import Path

from scenariokit.wording.files import renew


def main(arguments: list[str]) -> int:
    """Renew all languages; say how many texts each still lacks."""
    lessons = Path(arguments[0]) if arguments else None
    lacking = renew(lessons)
    for code, count in lacking.items():
        print(f"{code}: {count} texts lack a translation")
    return 1 if any(lacking.values()) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
