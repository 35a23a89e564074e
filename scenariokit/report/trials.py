"""What a trial says, in sentences."""

from __future__ import annotations

from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.report.trial_numbers import (
    METRIC,
    chance,
    in_reader_units,
    signed,
    span_text,
    yield_text,
)
from scenariokit.trials.analysis import Analysis, Comparisons
from scenariokit.trials.records import Study
from scenariokit.trials.summary import TrialSummary
from scenariokit.trials.unreplicated import UnreplicatedDifference

DESIGNS = {
    "randomised": "completely randomised",
    "blocks": "randomised blocks",
    "latin": "a Latin square",
    "split": "a split plot",
}
"""Designs as a reader knows them."""


def shown_labels(found: TrialSummary) -> dict[str, str]:
    """Return each level's label as a reader sees it: combinations joined by a dot."""
    return {one.label: " · ".join(one.levels) for one in found.means}


def study_sentence(study: Study | None) -> str:
    """Return what the study was, or nothing."""
    if study is None:
        return ""
    place = ", ".join(part for part in (study.place, study.country) if part)
    return (
        f"{study.title}; {place}; planted {study.planting.isoformat()}; figures under "
        f"{study.licence}."
    )


def trial_sentences(found: TrialSummary, showing: Showing) -> list[str]:
    """Return what a trial shows and what it does not, the most important first.

    Parameters
    ----------
    found : TrialSummary
        What `summarise` gave.
    showing : Showing
        Units of the reader.
    """
    said = _verdict(found, showing)
    said += _plots(found, showing)
    return said + [in_reader_units(line, showing) for line in found.interactions]


def _plots(found: TrialSummary, showing: Showing) -> list[str]:
    known = found.plots.known()
    mean = units.quantity(float(known.yields.mean()), METRIC[0])
    said = [
        f"{len(known)} of {len(found.plots)} plots were harvested; their mean is "
        f"{yield_text(mean, showing)}."
    ]
    if found.analysis is not None and found.analysis.residual.variation is not None:
        variation = float(found.analysis.residual.variation.m)
        said[0] += f" Plots treated alike vary by {variation:.0f} % of it."
    if found.design is not None:
        read = f"Read as {DESIGNS[found.design.name]}"
        said.append(
            f"{read}, a guess: {found.design.reason}. If the plots were laid out otherwise, say so."
            if found.design.guessed
            else f"{read}, as you chose."
        )
    if found.lost:
        said.append(f"Not harvested at all, and left out: {', '.join(found.lost)}.")
    return said


def _verdict(found: TrialSummary, showing: Showing) -> list[str]:
    """Return first what the trial is good for."""
    if found.analysis is None or found.comparisons is None:
        return _no_test(found, showing)
    said = [] if ":" in found.compare else [_effect(found, found.analysis)]
    said.append(_best(found, found.comparisons, showing))
    if found.comparisons.critical is not None:
        said.append(
            f"Any two must lie {yield_text(found.comparisons.critical, showing)} apart to be told "
            "apart, all pairs looked at together (Tukey)."
        )
    return said


def _effect(found: TrialSummary, analysis: Analysis) -> str:
    """Return whether the factor compared makes a difference, by its line of the table."""
    row = next((row for row in analysis.rows if row.source == found.compare), None)
    if row is None or row.f is None or row.p is None:
        return f"These plots cannot tell whether the {found.compare} makes a difference."
    if row.p < 1 - found.confidence:
        return f"That the {found.compare} makes a difference is shown (F = {row.f:.2f}, {chance(row.p)})."
    return (
        f"That the {found.compare} makes a difference is not shown (F = {row.f:.2f}, "
        f"{chance(row.p)}). That is no proof that there is none."
    )


def _best(found: TrialSummary, pairs: Comparisons, showing: Showing) -> str:
    """Return which level yields most, and from which others that is shown."""
    labels, best = shown_labels(found), found.means[0]
    beaten = {
        pair.second if pair.first == best.label else pair.first
        for pair in pairs.pairs
        if pair.differs and best.label in (pair.first, pair.second)
    }
    others = [one.label for one in found.means[1:]]
    alike = [labels[label] for label in others if label not in beaten]
    head = f"{labels[best.label]} yields most: {_with_interval(best, showing, found.confidence)}"
    if not alike:
        return f"{head}; more than every other is shown."
    if len(alike) == len(others):
        return f"{head}; that it yields more than any other is not shown."
    return f"{head}; that it yields more is not shown for {', '.join(alike)}, for the others it is."


def _with_interval(one: Any, showing: Showing, confidence: float) -> str:
    """Return a mean with its interval, or the words that there is none."""
    text = yield_text(one.mean, showing)
    if one.low is None:
        return f"{text} (no interval exists)"
    return f"{text} ({100 * confidence:.3g} % interval {span_text(one.low, one.high, showing)})"


_REASONS = {
    "one level": "Only one level of {what} was harvested: there is nothing to compare.",
    "no repeats": (
        "One plot proves little. Nothing was repeated so that these plots could show by how much "
        "plots treated alike differ: there is no test and no interval, however large a difference "
        "looks."
    ),
    "no variation": (
        "Plots treated alike gave exactly the same, so that there is no error to judge by; look "
        "whether weights were copied or averaged. There is no test and no interval."
    ),
    "not told apart": (
        "Treatments were combined so that the levels of {what} cannot be told from something else. "
        "There is no test; compare other factors, or one variety alone."
    ),
}  # fmt: skip


def _no_test(found: TrialSummary, showing: Showing) -> list[str]:
    """Return why there is no test, and what may be said all the same."""
    said = [_REASONS[found.without].format(what=found.compare.replace(":", " and "))]
    if found.without == "one level":
        labels = shown_labels(found)
        said += [
            f"{labels[one.label]}: {_with_interval(one, showing, found.confidence)}."
            for one in found.means
        ]
    if found.differences:
        widest = max(found.differences, key=lambda one: abs(float(one.observed.m)))
        said.append(_difference_words(widest, found, showing))
    return said


def _difference_words(one: UnreplicatedDifference, found: TrialSummary, showing: Showing) -> str:
    """Return the largest difference beside what like plots do."""
    labels = shown_labels(found)
    more, less = (one.first, one.second) if float(one.observed.m) >= 0 else (one.second, one.first)
    limits = ", ".join(
        f"{yield_text(row.difference, showing)} where they vary by {100 * row.cv:.0f} %"
        for row in one.credible
    )
    passed = [row for row in one.credible if row.passed]
    verdict = (
        f"The difference passes what plots that vary by {100 * passed[-1].cv:.0f} % do by chance, "
        "no more than that; it is no test."
        if passed
        else "The difference lies within what chance does even among even plots."
    )
    return (
        f"The largest difference: {labels[more]} gave {yield_text(abs(one.observed), showing)} more "
        f"than {labels[less]}. Treatments that are alike stay within {limits}, in "
        f"{100 * one.confidence:.3g} of 100 such trials. {verdict}"
    )


def against_sentences(found: TrialSummary, showing: Showing) -> list[str]:
    """Return each level against the usual one, with differences and ratios."""
    if found.against is None or found.control is None:
        return []
    labels, said = shown_labels(found), []
    for pair in found.against.pairs:
        text = (
            f"{labels[pair.first]} against {labels[pair.second]}: {signed(pair.difference, showing)} "
            f"({span_text(pair.low, pair.high, showing, differences=True)}; {chance(pair.p)}), "
            f"{'shown' if pair.differs else 'not shown'}"
        )
        ratio = found.ratios.get(pair.first)
        if ratio is not None:
            ends = (
                "its interval has no end"
                if ratio.low is None or ratio.high is None
                else f"{ratio.low:.2f} to {ratio.high:.2f}"
            )
            text += f"; {ratio.ratio:.2f} times ({ends})"
        said.append(f"{text}.")
    return said


def check_sentences(found: TrialSummary) -> list[str]:
    """Return whether the yields are as the analysis takes them."""
    checks = found.checks
    if checks is None:
        return []
    tests = [
        f"{name} {chance(test.p)}"
        for name, test in (
            ("normal curve (Shapiro-Wilk)", checks.shapiro),
            ("equal spread (Levene)", checks.levene),
        )
        if test is not None
    ]
    said = []
    if tests:
        said.append(f"Checks of the residuals: {'; '.join(tests)}. {checks.caution}")
    if found.rank_reason:
        said.append(f"Ranks are the safer look here, because {found.rank_reason}.")
    if found.ranks is not None:
        verdict = "shown" if found.ranks.p < 1 - found.confidence else "not shown"
        said.append(
            f"By ranks ({found.ranks.name}: {found.ranks.statistic:.2f} with {found.ranks.df} "
            f"degrees of freedom, {chance(found.ranks.p)}) a difference is {verdict}."
        )
    return said


def reach_sentences(found: TrialSummary, showing: Showing) -> list[str]:
    """Return the smallest difference that the trial could have shown, and what a smaller one needs."""
    reach = found.reach
    if reach is None:
        if found.without in ("no repeats", "no variation"):
            return ["Give each two plots or more, each with a reservoir of its own, drawn by lot."]
        return []
    often = f"{100 * reach.power:.0f} of 100 such trials"
    said = [
        f"A trial like this one finds a true difference of {yield_text(reach.difference, showing)} "
        f"({100 * reach.share:.0f} % of the mean) between two levels in {often}. Smaller ones it "
        "mostly misses."
    ]
    wanted = f"{100 * reach.wanted:.0f} %"
    if reach.wanted_plots is None:
        said.append(f"With plots as uneven as these no trial of a usual size finds {wanted}.")
    elif reach.wanted_plots > reach.plots:
        said.append(
            f"To find {wanted} as often takes {reach.wanted_plots} plots of each level; here stood "
            f"{reach.plots:.2g} on average."
        )
    return said
