"""The ``sweep`` command: a grid file into a folder of results, or into a table of summaries."""

from __future__ import annotations

import argparse
import dataclasses
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scenariokit.errors import ScenarioFileError
from scenariokit.language import mark, tr, tr_n

if TYPE_CHECKING:
    import pandas as pd

    from scenariokit.scale.grid import Grid

STOPPED = 130
"""Exit status after Ctrl-C, as shells have it."""

EXAMPLE_NOTES = (
    mark("methods, crop, sites, price_lists: ids in the catalogue; planting_months: 1 to 12."),
    mark(
        "Every method is worked out in every cell: each site with each month and each price list."
    ),
    mark(
        "draws: how many in each cell. seed: another one gives other draws; every cell has "
        "the same."
    ),
    mark("outcomes: what is kept; the names are those of a comparison."),
    mark("uncertainty: null for what is usually uncertain, or a list of inputs and one of causes."),
    mark(
        "An input: {path: prices.produce_price, relative: true, spread: {kind: pert, "
        "numbers: [0.6, 1, 1.5]}} in JSON's quotes; a spread in a unit has unit: money/kg "
        "and relative: false."
    ),
    mark("These notes may stay; nothing depends on them."),
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument("grid", nargs="?", help=tr("grid file (JSON); see --example"))
    parser.add_argument(
        "--example", action="store_true", help=tr("print a grid file to begin from")
    )
    parser.add_argument(
        "--into",
        help=tr(
            "folder for the draws (Parquet); a run broken off goes on in it. Without it no draw "
            "is kept and a summary of every outcome is printed"
        ),
    )
    parser.add_argument("--draws", type=int, help=tr("draws in each cell instead of the file's"))
    parser.add_argument(
        "--chunk", type=int, help=tr("draws in one file at most; 65536 if left out")
    )
    parser.add_argument(
        "--workers", type=int, help=tr("processes on this machine; one if left out")
    )
    parser.add_argument("--cluster", help=tr("address of a Dask scheduler instead of --workers"))
    parser.add_argument(
        "--summary",
        metavar="OUTCOME",
        help=tr("print mean, quantiles and chance of being best of one outcome, as CSV"),
    )


def run_command(options: argparse.Namespace) -> int:
    """Work a grid out, or print an example; return the exit status.

    Raises
    ------
    ScenarioFileError
        If no grid file is named, or it cannot be read.
    ScenarioKitError
        What working it out raised.
    """
    from scenariokit.scale import example_grid, load_grid, save_grid

    if options.example:
        print(save_grid(example_grid(), notes=[tr(one) for one in EXAMPLE_NOTES]), end="")
        return 0
    if not options.grid:
        raise ScenarioFileError(tr("name a grid file, or ask for one to begin from with --example"))
    if options.cluster and options.workers is not None:
        raise ScenarioFileError(tr("give --workers or --cluster, not both"))
    grid = load_grid(_content(options.grid), options.grid)
    if options.draws is not None:
        grid = dataclasses.replace(grid, draws=options.draws)
    cluster = options.cluster or options.workers
    try:
        if options.into is None:
            return _fold(grid, cluster, options)
        return _run(grid, cluster, options)
    except KeyboardInterrupt:
        said = (
            tr("stopped")
            if options.into is None
            else tr("stopped; the same command goes on where it stopped")
        )
        print(said, file=sys.stderr)
        return STOPPED


def _run(grid: Grid, cluster: Any, options: argparse.Namespace) -> int:
    """Put all draws into the folder, and print the summary asked for."""
    from scenariokit.scale import run, summarise
    from scenariokit.uncertainty import ProgressLine

    with ProgressLine(mark("chunks")) as told:
        found = run(grid, options.into, chunk=options.chunk, cluster=cluster, progress=told)
    for note in found.notes:
        print(f"- {note}", file=sys.stderr)
    said = tr_n(
        "{count} file in {folder}, {made} of them made now",
        "{count} files in {folder}, {made} of them made now",
        found.parts,
        folder=found.folder,
        made=found.made,
    )
    print(said, file=sys.stderr if options.summary else sys.stdout)
    if options.summary:
        _print(summarise(options.into, options.summary))
    return 0


def _fold(grid: Grid, cluster: Any, options: argparse.Namespace) -> int:
    """Print summaries without keeping a draw."""
    from scenariokit.scale import fold
    from scenariokit.uncertainty import ProgressLine

    if options.summary:
        grid = dataclasses.replace(grid, outcomes=(options.summary,))
    with ProgressLine(mark("draws")) as told:
        found = fold(grid, progress=told, cluster=cluster)
    _print(found)
    return 0


def _print(table: pd.DataFrame) -> None:
    print(table.to_csv(index=False, lineterminator="\n"), end="")


def _content(path: str) -> bytes:
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise ScenarioFileError(f"{path}: {error.strerror or error}") from error
