"""Invented trials to try the readers and analyses on; every row says that it is invented."""

from __future__ import annotations

from importlib import resources

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.trials.records import Records, Study, read_records, read_study, with_study

DEMOS: dict[str, str] = {
    "trial": "demo_trial.csv",
    "single": "demo_trial_single.csv",
    "alder_ford": "demo_pool_alder_ford.csv",
    "gull_reach": "demo_pool_gull_reach.csv",
    "moss_end": "demo_pool_moss_end.csv",
}
"""Name of each invented trial to its file."""

POOL = ("trial", "alder_ford", "gull_reach", "moss_end")
"""The invented trials that belong together: four clubs, three of them with repeated plots."""

_STUDY = "demo_trial_study.csv"


def demo_records(name: str = "trial") -> Records:
    """Return the plot records of an invented trial.

    Parameters
    ----------
    name : {'trial', 'single', 'alder_ford', 'gull_reach', 'moss_end'}
        ``"trial"``: four methods and two varieties in three blocks, one plot
        not harvested. ``"single"``: one plot of each method. The others are
        trials of other clubs to pool with the first: one in US units, one
        without repeated plots and with a row that is wrong on purpose.

    Returns
    -------
    Records
        With the sheet of the study for ``"trial"``.

    Raises
    ------
    RangeError
        If there is no such trial.

    Notes
    -----
    All weights are invented for demonstration. Plots of ``"trial"`` were drawn
    with a coefficient of variation of 12 %.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_records
    >>> records = demo_records()
    >>> len(records.plots), len(records.plots.known()), records.plots.levels("block")
    (24, 23, ('bench 1', 'bench 2', 'bench 3'))
    """
    found = read_records(_content(name), name=DEMOS[name])
    return with_study(found, demo_study()) if name == "trial" else found


def demo_study() -> Study:
    """Return the sheet of the invented trial ``"trial"``.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_study
    >>> demo_study().place
    'Tern Hollow (invented)'
    """
    return read_study(_bytes(_STUDY), name=_STUDY)


def demo_files(names: tuple[str, ...] = POOL) -> list[tuple[str, bytes]]:
    """Return the files of invented trials by name and content, as `pool` takes them.

    Parameters
    ----------
    names : tuple of str
        Which; the four clubs that belong together if left out.

    Returns
    -------
    list of (str, bytes)
        The files, and the sheet of the study of ``"trial"`` if it is among them.

    Raises
    ------
    RangeError
        If there is no such trial.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_files
    >>> [name for name, _ in demo_files(("trial",))]
    ['demo_trial.csv', 'demo_trial_study.csv']
    """
    files = [(DEMOS.get(name, ""), _content(name)) for name in names]
    return [*files, (_STUDY, _bytes(_STUDY))] if "trial" in names else files


def _content(name: str) -> bytes:
    """Return the file of the trial called `name`."""
    if name not in DEMOS:
        problem = Problem(
            "name", str(name), tr("is no invented trial"), ", ".join(DEMOS), kind="range"
        )
        raise argument_error([problem], "demo_records")
    return _bytes(DEMOS[name])


def _bytes(file: str) -> bytes:
    return resources.files("scenariokit.trials").joinpath("data", file).read_bytes()
