"""What the trial desk knows: records, choices, and what follows from them; no widget in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from scenariokit import catalog
from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.tables import write_csv
from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem, RecordError
from scenariokit.language import mark, tr
from scenariokit.parameters import UnitSystem
from scenariokit.trials.demo import POOL, demo_files
from scenariokit.trials.design_guess import DesignChoice
from scenariokit.trials.measures import GroupMeasures, group_measures
from scenariokit.trials.over_studies import StudiesSummary, summarise_studies
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooled_prior import tempered_differences
from scenariokit.trials.pooling import pool
from scenariokit.trials.pooling.sources import PoolFile
from scenariokit.trials.prior import TemperedDifference
from scenariokit.trials.records import Records, Study, plots_of, read_records
from scenariokit.trials.records.merging import Per
from scenariokit.trials.records.report import REPORT, report_rows
from scenariokit.trials.summary import TrialSummary, summarise
from scenariokit.trials.unreplicated import UnreplicatedDifference

OWN = "own"
DEMOS: dict[str, tuple[str, tuple[str, ...]]] = {
    "trial": (mark("Invented: 3 blocks, 24 plots"), ("trial",)),
    "single": (mark("Invented: one plot of each method"), ("single",)),
    "pool": (mark("Invented: four clubs together"), POOL),
}
ALL_STUDIES = ""
BOTH = "method:variety"
COMPARISONS = {
    "method": mark("methods"),
    "variety": mark("varieties"),
    BOTH: mark("methods with varieties"),
}


@dataclass(frozen=True, eq=False)
class LoadedTrials:
    """Plot records as they were read.

    Parameters
    ----------
    label : str
        What they are called.
    rows : tuple of dict
        The good rows.
    problems, flags : tuple of Problem
        What was refused, and what was kept but wants a second look.
    studies : dict of str to Study
        Sheets of studies, by name of the study.
    notes : tuple of str
        How the rows came about.
    """

    label: str
    rows: tuple[dict[str, Any], ...]
    problems: tuple[Problem, ...] = ()
    flags: tuple[Problem, ...] = ()
    studies: dict[str, Study] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def has_occupied(self) -> bool:
        """Whether the ground that plots take up is recorded for all."""
        return all(row["occupied_area"] is not None for row in self.rows)

    def report(self) -> str:
        """Return a CSV text with every problem and flag, to send back."""
        rows = report_rows(self.problems, tr("not used"))
        return write_csv([*rows, *report_rows(self.flags, tr("used, but look again"))], REPORT)


def from_records(records: Records, label: str = "") -> LoadedTrials:
    """Return records as the desk takes them."""
    studies = {}
    if records.study is not None:
        names = {row["study_id"] for row in records.rows}
        studies = dict.fromkeys(sorted(names), records.study)
    return LoadedTrials(
        label or records.name, records.rows, records.problems, records.flags, studies
    )


def read_files(files: Sequence[tuple[str, bytes]], decimal: Decimal = ".") -> LoadedTrials:
    """Return the plot records of one file, or of several pooled.

    Parameters
    ----------
    files : sequence of (str, bytes)
        Names and contents. Files called ``study`` or ending in ``_study`` are
        sheets of studies.
    decimal : {'.', ','}
        The decimal sign in all of them.

    Raises
    ------
    RecordError
        If no row of any file can be used, with all problems.
    """
    if len(files) == 1:
        ((name, content),) = files
        if PoolFile(name, content).is_study:
            reason = tr("is the sheet of a study; choose it together with its plot records")
            raise RecordError([Problem("file", "", reason, file=name)])
        loaded = from_records(read_records(content, name=name, decimal=decimal))
    else:
        pooled = pool(files, decimal=decimal)
        problems = (*pooled.problems(), *pooled.study_problems)
        loaded = LoadedTrials(
            tr("{count} files", count=len(pooled.files)), tuple(pooled.rows()), problems, tuple(pooled.flags()),
            dict(pooled.studies), pooled.notes if len(pooled.files) > 1 else (),
        )  # fmt: skip
    if not loaded.rows:
        raise RecordError(
            loaded.problems, tr("{records}: no row can be used", records=loaded.label)
        )
    return loaded


@dataclass(frozen=True)
class TrialChoices:
    """What a person picked.

    Parameters
    ----------
    compare : str
        ``"method"``, ``"variety"`` or both joined.
    design : str
        See `summarise`.
    control : str
        The usual level; empty for none.
    study : str
        One study, or empty for all together.
    varieties : tuple of str
        Varieties kept; empty for all.
    per : {'tank', 'occupied'}
        Which area yields are divided by.
    forest : str
        The level in the forest picture; empty for the first.
    temper : bool
        Whether the other studies are heard where one trial was not repeated.
    system : {'metric', 'us'}
        Units of the reader.
    """

    compare: str = "method"
    design: DesignChoice = "auto"
    control: str = ""
    study: str = ALL_STUDIES
    varieties: tuple[str, ...] = ()
    per: Per = "tank"
    forest: str = ""
    temper: bool = False
    system: UnitSystem = "metric"


class TrialState:
    """Records, choices and the summary that follows from them.

    Parameters
    ----------
    records : Records or LoadedTrials, optional
        Where to begin; the invented trial if left out.
    """

    def __init__(self, records: Records | LoadedTrials | None = None) -> None:
        self.own: LoadedTrials | None = None
        self.source = "trial"
        self.choices = TrialChoices()
        if records is None:
            self.take(_demo("trial"))
        else:
            self.take(records if isinstance(records, LoadedTrials) else from_records(records), OWN)

    def take(self, loaded: LoadedTrials, source: str = "trial") -> None:
        """Use other records; on an error nothing changes.

        Raises
        ------
        InfeasibleError
            If no plot of them was harvested.
        """
        choices = _fitting(TrialChoices(system=self.choices.system), loaded)
        found = _computed(loaded, choices)
        self.loaded, self.source, self.choices, self.found = loaded, source, choices, found
        if source == OWN:
            self.own = loaded

    def pick_source(self, source: str) -> None:
        """Use an invented trial, or the person's own again."""
        if source == OWN and self.own is not None:
            self.take(self.own, OWN)
        elif source in DEMOS:
            self.take(_demo(source), source)

    def pick(self, **changes: Any) -> None:
        """Change choices; on an error nothing changes.

        Raises
        ------
        ArgumentError
            If the plots are not of the design chosen.
        RecordError, InfeasibleError
            If nothing is left, or areas are missing.
        """
        choices = _fitting(replace(self.choices, **changes), self.loaded)
        self.found = _computed(self.loaded, choices)
        self.choices = choices

    def rename(self, before: Mapping[str, str]) -> None:
        """Call the methods by their names in the language now in use.

        Parameters
        ----------
        before : mapping
            What they were called, by id: what `method_names` gave.
        """
        now = method_names()
        renamed = {name: now[key] for key, name in before.items()}

        def new(level: str) -> str:
            return ":".join(renamed.get(part, part) for part in level.split(":"))

        self.pick(control=new(self.choices.control), forest=new(self.choices.forest))

    @property
    def showing(self) -> Showing:
        """The units of the reader."""
        return Showing(system=self.choices.system)

    @property
    def plots(self) -> PlotTable:
        """The plots that are looked at."""
        return _plots(self.loaded, self.choices)

    @property
    def study(self) -> Study | None:
        """The sheet of the only study looked at, if it was given."""
        names = self.plots.levels("study")
        return self.loaded.studies.get(names[0]) if len(names) == 1 else None

    def studies(self) -> list[str]:
        """Return the studies in the records."""
        return list(dict.fromkeys(row["study_id"] for row in self.loaded.rows))

    def measures(self) -> tuple[GroupMeasures, ...]:
        """Return yield per area, ground and plant, and marketable share, by method and variety."""
        names = method_names()
        return tuple(
            replace(one, method=names.get(one.method, one.method))
            for one in group_measures(_rows(self.loaded, self.choices))
        )

    @property
    def can_temper(self) -> bool:
        """Whether this is an unreplicated trial beside two other studies or more."""
        found = self.found
        single = isinstance(found, TrialSummary) and bool(found.differences)
        return single and bool(self.choices.study) and len(self.studies()) > 2

    def tempered(self) -> tuple[tuple[UnreplicatedDifference, TemperedDifference | None], ...]:
        """Return the differences of single plots with the other studies heard, if that is chosen."""
        found = self.found
        if not (self.choices.temper and self.can_temper and isinstance(found, TrialSummary)):
            return ()
        others = [study for study in self.studies() if study != self.choices.study]
        rows = [
            row
            for study in others
            for row in _rows(self.loaded, replace(self.choices, study=study))
        ]
        plots = _labelled(plots_of(rows, per=self.choices.per))
        return tempered_differences(found.differences, plots, treatment=self.choices.compare)

    def varieties(self) -> list[str]:
        """Return the varieties in the records."""
        return list(dict.fromkeys(row["genotype"] for row in self.loaded.rows))

    def comparisons(self) -> dict[str, str]:
        """Return what can be compared, and its words."""
        return {name: COMPARISONS[name] for name in _comparable(self.loaded, self.choices)}

    def levels(self) -> list[str]:
        """Return the levels compared of which a plot was harvested."""
        return _levels(self.plots, self.choices.compare)


def _demo(source: str) -> LoadedTrials:
    label, names = DEMOS[source]
    return replace(read_files(demo_files(names)), label=label)


def method_names() -> dict[str, str]:
    """Return what a person reads for each method of the catalogue, by its id."""
    return {key: tr(str(row["label"])) for key, row in catalog.methods().items()}


def _rows(loaded: LoadedTrials, choices: TrialChoices) -> list[Any]:
    """Return the records of the study and the varieties chosen."""
    return [
        row
        for row in loaded.rows
        if choices.study in (ALL_STUDIES, row["study_id"])
        and (not choices.varieties or row["genotype"] in choices.varieties)
    ]


def _plots(loaded: LoadedTrials, choices: TrialChoices) -> PlotTable:
    """Return the plots of the study and the varieties chosen, methods by their labels."""
    table = _labelled(plots_of(_rows(loaded, choices), per=choices.per))
    return replace(table, notes=(*loaded.notes, *table.notes))


def _labelled(table: PlotTable) -> PlotTable:
    """Return plots with the labels of methods for their ids."""
    names = method_names()
    methods = tuple(names.get(level, level) for level in table.column("method"))
    return replace(table, factors={**table.factors, "method": methods})


def _levels(plots: PlotTable, compare: str) -> list[str]:
    known = plots.known()
    columns = zip(*(known.column(factor) for factor in compare.split(":")), strict=True)
    return list(dict.fromkeys(":".join(cell) for cell in columns))


def _comparable(loaded: LoadedTrials, choices: TrialChoices) -> list[str]:
    """Return what can be compared among the plots looked at."""
    known = _plots(loaded, choices).known()
    several = [name for name in ("method", "variety") if len(known.levels(name)) > 1]
    if len(known.levels("study")) > 1:
        return several or ["method"]
    return [*several, BOTH] if len(several) > 1 else several or ["method"]


def _fitting(choices: TrialChoices, loaded: LoadedTrials) -> TrialChoices:
    """Return the choices without those that the records have no place for."""
    studies = {row["study_id"] for row in loaded.rows}
    grown = {row["genotype"] for row in loaded.rows}
    kept = tuple(name for name in choices.varieties if name in grown)
    fitted = replace(
        choices,
        study=choices.study if choices.study in studies else ALL_STUDIES,
        varieties=() if set(kept) == grown else kept,
        per=choices.per if loaded.has_occupied else "tank",
    )
    comparable = _comparable(loaded, fitted)
    compare = fitted.compare if fitted.compare in comparable else comparable[0]
    levels = _levels(_plots(loaded, fitted), compare)
    return replace(
        fitted,
        compare=compare,
        control=fitted.control if fitted.control in levels else "",
        forest=fitted.forest if fitted.forest in levels else "",
    )


def _computed(loaded: LoadedTrials, choices: TrialChoices) -> TrialSummary | StudiesSummary:
    plots = _plots(loaded, choices)
    known = plots.known()
    several = len(known.levels("study")) > 1
    if several and len(known.levels(choices.compare)) > 1:
        return summarise_studies(plots, compare=choices.compare, common=choices.control or None)
    if not several and len(plots.levels("study")) > 1:
        # Studies of which nothing was harvested would look like more than one.
        plots = plots.where(
            np.array([one in known.levels("study") for one in plots.column("study")])
        )
    return summarise(
        plots, design=choices.design, compare=choices.compare, control=choices.control or None
    )
