"""The ``scenariokit`` command."""

from __future__ import annotations

import argparse
import dataclasses
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenariokit import __version__
from scenariokit.errors import Problem, ScenarioFileError, ScenarioKitError
from scenariokit.language import mark, tr, tr_n


@dataclass(frozen=True)
class Command:
    """One sub-command.

    Parameters
    ----------
    name, help : str
        What is typed, and what it does in one line.
    add_arguments : callable
        Adds its arguments to a parser.
    run : callable
        Does it; returns the exit status.
    """

    name: str
    help: str
    add_arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


def _serve_arguments(parser: argparse.ArgumentParser) -> None:
    from scenariokit.serve.command import add_arguments

    add_arguments(parser)


def _serve(options: argparse.Namespace) -> int:
    from scenariokit.serve.command import run_command

    return run_command(options)


def _compare_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("scenario", nargs="*", help=tr("scenario files (JSON) instead of methods"))
    parser.add_argument(
        "--methods", help=tr("ids separated by commas; all that grow the crop if left out")
    )
    parser.add_argument("--crop", default="potato", help=tr("id of the crop"))
    parser.add_argument("--site", default="tern_hollow", help=tr("id of the place"))
    parser.add_argument("--prices", default="tern_hollow", help=tr("id of a price list, or a file"))
    parser.add_argument("--harvest", help=tr("file of your harvest weights"))
    parser.add_argument("--own-methods", help=tr("file of your own methods"))
    parser.add_argument("--units", choices=("metric", "us"), default="metric")
    parser.add_argument(
        "--decimal", choices=(".", ","), default=".", help=tr("decimal sign in your files")
    )
    parser.add_argument("--csv", help=tr("also write every outcome to this file"))


def _compare(options: argparse.Namespace) -> int:
    """Print what the numbers say and the short table; list bad rows of files."""
    from scenariokit.charts.frames import Showing
    from scenariokit.report import comparison_csv, comparison_text, sentences
    from scenariokit.scenario import compare, load

    if options.scenario:
        scenarios = [load(_content(path), path) for path in options.scenario]
        problems: list[Problem] = []
    else:
        scenarios, problems = _chosen(options)
    comparison = compare(scenarios)
    showing = Showing(options.units, comparison.currency)
    print(comparison_text(comparison, showing))
    print()
    for line in sentences(comparison, showing):
        print(f"- {line}")
    seen = {caution.id: caution for found in comparison for caution in found.cautions}
    print("\n" + tr("Cautions"))
    for caution in seen.values():
        source = tr("Source: {source}.", source=caution.source)
        print(f"- {caution.text} ({source})")
    if options.csv:
        Path(options.csv).write_text(comparison_csv(comparison, showing), encoding="utf-8")
        print("\n" + tr("Every outcome is in {file}.", file=options.csv))
    return _report(problems)


def _chosen(options: argparse.Namespace) -> tuple[list[Any], list[Problem]]:
    """Return the scenarios that the options ask for, and the bad rows of the files read."""
    from scenariokit import catalog
    from scenariokit.scenario import harvest_from_plots, scenario_for
    from scenariokit.trials import read_harvest, yield_by_method

    problems: list[Problem] = []
    methods = catalog.methods()
    if options.own_methods:
        merged = catalog.with_own_methods(
            _content(options.own_methods), name=options.own_methods, decimal=options.decimal
        )
        methods = merged.entries
        problems += merged.problems
    prices: Any = options.prices
    if prices not in catalog.price_lists():
        base = catalog.price_list("tern_hollow")
        prices, found = catalog.read_prices(
            _content(options.prices), base=base, name=options.prices, decimal=options.decimal
        )
        problems += found
        if prices.missing:
            missing = tr(
                "Not in {file}, so the price of {list}: {items}.",
                file=options.prices,
                list=tr(base.label),
                items=", ".join(prices.missing),
            )
            print(f"{missing}\n")
    ids = (
        options.methods.split(",")
        if options.methods
        else [key for key, row in methods.items() if options.crop in row["yields"]]
    )
    scenarios = [
        scenario_for(key.strip(), options.crop, options.site, prices, methods=methods)
        for key in ids
    ]
    if options.harvest:
        read = read_harvest(
            _content(options.harvest),
            name=options.harvest,
            decimal=options.decimal,
            methods=methods,
        )
        problems += read.problems
        own = yield_by_method(read)
        scenarios = [
            dataclasses.replace(one, harvest=harvest_from_plots(own[one.method.id, one.crop.id]))
            if (one.method.id, one.crop.id) in own
            else one
            for one in scenarios
        ]
    return scenarios, problems


def _content(path: str) -> bytes:
    """Return the bytes of a file, or say that it cannot be read."""
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise ScenarioFileError(f"{path}: {error.strerror or error}") from error


def _report(problems: Sequence[Problem]) -> int:
    """Print what is wrong with rows; return 1 if anything is."""
    if not problems:
        return 0
    left_out = tr_n(
        "{count} row or cell was left out:", "{count} rows or cells were left out:", len(problems)
    )
    print(f"\n{left_out}", file=sys.stderr)
    for problem in problems:
        print(f"- {problem}", file=sys.stderr)
    return 1


def _check_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "kind",
        choices=(
            "prices", "harvest", "trial", "methods", "media", "weather", "water", "fertilisers",
            "targets", "scenario",
        ),
    )  # fmt: skip
    parser.add_argument("file", nargs="+", help=tr("files to look through"))
    parser.add_argument(
        "--decimal", choices=(".", ","), default=".", help=tr("decimal sign in the files")
    )


def _check(options: argparse.Namespace) -> int:
    """Read each file and list everything that is wrong with it; one bad file stops none."""
    worst = 0
    for path in options.file:
        try:
            good, problems = _looked_through(options.kind, path, options.decimal)
        except ScenarioKitError as error:
            print(tr("{file}: cannot be used", file=path) + f"\n{error}", file=sys.stderr)
            worst = 2
            continue
        wrong = tr_n("{count} problem", "{count} problems", len(problems))
        print(f"{path}: {good}, {wrong}")
        worst = max(worst, _report(problems))
    return worst


def _looked_through(kind: str, path: str, decimal: Any) -> tuple[str, Sequence[Problem]]:
    """Return what is good about a file in words, and its problems."""
    from scenariokit import catalog, climate, nutrients
    from scenariokit.scenario import load
    from scenariokit.trials import read_harvest, read_records

    content = _content(path)
    if kind == "scenario":
        return tr("scenario {name} is in order", name=repr(load(content, path).name)), ()
    if kind == "harvest":
        harvest = read_harvest(content, name=path, decimal=decimal)
        return _good_rows(len(harvest.rows)), harvest.problems
    if kind == "trial":
        records = read_records(content, name=path, decimal=decimal)
        good = tr_n("{count} plot in order", "{count} plots in order", len(records.rows))
        return good, (*records.problems, *records.flags)
    if kind == "water":
        water = catalog.read_water(content, name=path, decimal=decimal)
        for key, row in water.entries.items():
            nutrients.water_from_rows(row.label, row.rows, id=key, file=path)
        good = tr_n("{count} analysis in order", "{count} analyses in order", len(water.entries))
        return good, water.problems
    if kind == "fertilisers":
        products = nutrients.own_fertilisers(content, name=path, decimal=decimal)
        count = len(products.own)
        good = tr_n("{count} fertiliser in order", "{count} fertilisers in order", count)
        return good, products.problems
    if kind == "targets":
        targets = nutrients.own_targets(content, name=path, decimal=decimal)
        count = len(targets.entries)
        good = tr_n("{count} set of targets in order", "{count} sets of targets in order", count)
        return good, targets.problems
    if kind == "weather":
        weather = climate.read_weather(content, name=path, decimal=decimal)
        gaps = tr_n("{count} gap", "{count} gaps", len(weather.gaps))
        return f"{_good_rows(len(weather.rows))}, {gaps}", weather.problems
    if kind == "media":
        media = catalog.with_own_media(content, name=path, decimal=decimal)
        count = len(media.own)
        good = tr_n("{count} growing medium in order", "{count} growing media in order", count)
        return good, media.problems
    if kind == "methods":
        merged = catalog.with_own_methods(content, name=path, decimal=decimal)
        good = tr_n("{count} method in order", "{count} methods in order", len(merged.own))
        return good, merged.problems
    prices, problems = catalog.read_prices(content, name=path, decimal=decimal)
    priced = tr_n("{count} price in order", "{count} prices in order", len(prices.prices))
    missing = tr_n("{count} item not priced", "{count} items not priced", len(prices.missing))
    return f"{priced}, {missing}", problems


def _good_rows(count: int) -> str:
    return tr_n("{count} good row", "{count} good rows", count)


def _pool_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", help=tr("folder with the trial records of many rooms"))
    parser.add_argument(
        "--into",
        required=True,
        help=tr("folder for the pooled table; a run broken off goes on in it"),
    )
    parser.add_argument("--workers", type=int, help=tr("processes that read; one if left out"))
    parser.add_argument(
        "--decimal", choices=(".", ","), default=".", help=tr("decimal sign in the files")
    )


def _pool(options: argparse.Namespace) -> int:
    """Put the trial records of a folder into one table, and say what became of each file."""
    from scenariokit.trials import pool
    from scenariokit.uncertainty.progress import ProgressLine

    with ProgressLine(mark("files"), patience=0.0) as told:
        pooled = pool(
            options.folder, progress=told, resume=options.into, workers=options.workers,
            decimal=options.decimal,
        )  # fmt: skip
    for note in pooled.notes:
        print(f"- {note}")
    print(tr("Plots: {file}", file=pooled.plots_path))
    print(tr("Problems: {file}", file=pooled.problems_path))
    return 1 if pooled.refused_count or any(not file.rows for file in pooled.files) else 0


def _sweep_arguments(parser: argparse.ArgumentParser) -> None:
    from scenariokit.scale.command import add_arguments

    add_arguments(parser)


def _sweep(options: argparse.Namespace) -> int:
    from scenariokit.scale.command import run_command

    return run_command(options)


COMMANDS: tuple[Command, ...] = (
    Command("serve", mark("Open the comparison board in your browser."), _serve_arguments, _serve),
    Command(
        "compare",
        mark("Compare methods and print what the numbers say."),
        _compare_arguments,
        _compare,
    ),
    Command(
        "check", mark("Look through your files and list what is wrong."), _check_arguments, _check
    ),
    Command(
        "pool", mark("Put the trial records of many files into one table."), _pool_arguments, _pool
    ),
    Command(
        "sweep",
        mark("Compare methods at many places, seasons and prices."),
        _sweep_arguments,
        _sweep,
    ),
)


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    made = argparse.ArgumentParser(
        prog="scenariokit", description=tr("Compare passive hydroponic growing methods.")
    )
    made.add_argument("--version", action="version", version=f"scenariokit {__version__}")
    rooms = made.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in COMMANDS:
        said = tr(command.help)
        inner = rooms.add_parser(command.name, help=said, description=said)
        command.add_arguments(inner)
        inner.set_defaults(run=command.run)
    return made


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; return the exit status."""
    options = parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except ScenarioKitError as error:
        print(f"scenariokit {options.command}: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
