"""What a trial says, in sentences."""

from __future__ import annotations

from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.language import mark, tr
from scenariokit.report.trial_numbers import (
    METRIC,
    chance,
    in_reader_units,
    signed,
    span_text,
    yield_text,
)
from scenariokit.trials.analysis import Analysis, Comparisons, RankTest
from scenariokit.trials.plots import factor_text, factors_text
from scenariokit.trials.records import Study
from scenariokit.trials.summary import TrialSummary
from scenariokit.trials.unreplicated import UnreplicatedDifference

DESIGNS = {
    "randomised": mark("completely randomised"),
    "blocks": mark("randomised blocks"),
    "latin": mark("a Latin square"),
    "split": mark("a split plot"),
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
    return tr(
        "{title}; {place}; planted {date}; figures under {licence}.",
        title=study.title,
        place=place,
        date=study.planting.isoformat(),
        licence=study.licence,
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
        tr(
            "{harvested} of {plots} plots were harvested; their mean is {mean}.",
            harvested=len(known),
            plots=len(found.plots),
            mean=yield_text(mean, showing),
        )
    ]
    if found.analysis is not None and found.analysis.residual.variation is not None:
        variation = float(found.analysis.residual.variation.m)
        vary = tr("Plots treated alike vary by {percent:.0f} % of it.", percent=variation)
        said[0] = f"{said[0]} {vary}"
    if found.design is not None:
        design = tr(DESIGNS[found.design.name])
        said.append(
            tr(
                "Read as {design}, a guess: {reason}. If the plots were laid out otherwise, say so.",
                design=design,
                reason=found.design.reason,
            )
            if found.design.guessed
            else tr("Read as {design}, as you chose.", design=design)
        )
    if found.lost:
        lost = ", ".join(found.lost)
        said.append(tr("Not harvested at all, and left out: {names}.", names=lost))
    return said


def _verdict(found: TrialSummary, showing: Showing) -> list[str]:
    """Return first what the trial is good for."""
    if found.analysis is None or found.comparisons is None:
        return _no_test(found, showing)
    said = [] if ":" in found.compare else [_effect(found, found.analysis)]
    said.append(_best(found, found.comparisons, showing))
    if found.comparisons.critical is not None:
        said.append(
            tr(
                "Any two must lie {difference} apart to be told apart, all pairs looked at together "
                "(Tukey).",
                difference=yield_text(found.comparisons.critical, showing),
            )
        )
    return said


def _effect(found: TrialSummary, analysis: Analysis) -> str:
    """Return whether the factor compared makes a difference, by its line of the table."""
    row = next((row for row in analysis.rows if row.source == found.compare), None)
    if row is None or row.f is None or row.p is None:
        return tr(
            "These plots cannot tell whether the {factor} makes a difference.",
            factor=factor_text(found.compare),
        )
    told = {"factor": factor_text(found.compare), "f": float(row.f), "chance": chance(row.p)}
    if row.p < 1 - found.confidence:
        return tr("That the {factor} makes a difference is shown (F = {f:.2f}, {chance}).", **told)
    return tr(
        "That the {factor} makes a difference is not shown (F = {f:.2f}, {chance}). That is no proof "
        "that there is none.",
        **told,
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
    told = {
        "label": labels[best.label],
        "amount": _with_interval(best, showing, found.confidence),
    }
    if not alike:
        return tr("{label} yields most: {amount}; more than every other is shown.", **told)
    if len(alike) == len(others):
        return tr(
            "{label} yields most: {amount}; that it yields more than any other is not shown.",
            **told,
        )
    return tr(
        "{label} yields most: {amount}; that it yields more is not shown for {others}, for the "
        "others it is.",
        others=", ".join(alike),
        **told,
    )


def _with_interval(one: Any, showing: Showing, confidence: float) -> str:
    """Return a mean with its interval, or the words that there is none."""
    text = yield_text(one.mean, showing)
    if one.low is None:
        return tr("{amount} (no interval exists)", amount=text)
    return tr(
        "{amount} ({percent:.3g} % interval {ends})",
        amount=text,
        percent=100 * confidence,
        ends=span_text(one.low, one.high, showing),
    )


_REASONS = {
    "one level": mark("Only one level of {what} was harvested: there is nothing to compare."),
    "no repeats": mark(
        "One plot proves little. Nothing was repeated so that these plots could show by how much "
        "plots treated alike differ: there is no test and no interval, however large a difference "
        "looks."
    ),
    "no variation": mark(
        "Plots treated alike gave exactly the same, so that there is no error to judge by; look "
        "whether weights were copied or averaged. There is no test and no interval."
    ),
    "not told apart": mark(
        "Treatments were combined so that the levels of {what} cannot be told from something else. "
        "There is no test; compare other factors, or one variety alone."
    ),
}  # fmt: skip


def _no_test(found: TrialSummary, showing: Showing) -> list[str]:
    """Return why there is no test, and what may be said all the same."""
    said = [tr(_REASONS[found.without], what=factors_text(found.compare.split(":")))]
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
        tr(
            "{difference} where they vary by {percent:.0f} %",
            difference=yield_text(row.difference, showing),
            percent=100 * row.cv,
        )
        for row in one.credible
    )
    passed = [row for row in one.credible if row.passed]
    verdict = (
        tr(
            "The difference passes what plots that vary by {percent:.0f} % do by chance, no more "
            "than that; it is no test.",
            percent=100 * passed[-1].cv,
        )
        if passed
        else tr("The difference lies within what chance does even among even plots.")
    )
    largest = tr(
        "The largest difference: {more} gave {difference} more than {less}. Treatments that are "
        "alike stay within {limits}, in {count:.3g} of 100 such trials.",
        more=labels[more],
        difference=yield_text(abs(one.observed), showing),
        less=labels[less],
        limits=limits,
        count=100 * one.confidence,
    )
    return f"{largest} {verdict}"


def against_sentences(found: TrialSummary, showing: Showing) -> list[str]:
    """Return each level against the usual one, with differences and ratios."""
    if found.against is None or found.control is None:
        return []
    labels, said = shown_labels(found), []
    for pair in found.against.pairs:
        told = {
            "first": labels[pair.first],
            "second": labels[pair.second],
            "difference": signed(pair.difference, showing),
            "interval": span_text(pair.low, pair.high, showing, differences=True),
            "chance": chance(pair.p),
            "verdict": tr("shown") if pair.differs else tr("not shown"),
        }
        ratio = found.ratios.get(pair.first)
        if ratio is None:
            text = tr(
                "{first} against {second}: {difference} ({interval}; {chance}), {verdict}.", **told
            )
        else:
            ends = (
                tr("its interval has no end")
                if ratio.low is None or ratio.high is None
                else tr("{low:.2f} to {high:.2f}", low=float(ratio.low), high=float(ratio.high))
            )
            text = tr(
                "{first} against {second}: {difference} ({interval}; {chance}), {verdict}; "
                "{ratio:.2f} times ({ends}).",
                ratio=float(ratio.ratio),
                ends=ends,
                **told,
            )
        said.append(text)
    return said


def check_sentences(found: TrialSummary) -> list[str]:
    """Return whether the yields are as the analysis takes them."""
    checks = found.checks
    if checks is None:
        return []
    tests = [
        f"{name} {chance(test.p)}"
        for name, test in (
            (tr("normal curve (Shapiro-Wilk)"), checks.shapiro),
            (tr("equal spread (Levene)"), checks.levene),
        )
        if test is not None
    ]
    said = []
    if tests:
        listed = tr("Checks of the residuals: {tests}.", tests="; ".join(tests))
        said.append(f"{listed} {tr(checks.caution)}")
    if found.rank_reason:
        reason = found.rank_reason
        said.append(tr("Ranks are the safer look here, because {reason}.", reason=reason))
    if found.ranks is not None:
        said.append(_rank_words(found.ranks, found.ranks.p < 1 - found.confidence))
    return said


def _rank_words(ranks: RankTest, shown: bool) -> str:
    told = {
        "test": ranks.name,
        "statistic": float(ranks.statistic),
        "degrees": ranks.df,
        "chance": chance(ranks.p),
    }
    if shown:
        return tr(
            "By ranks ({test}: {statistic:.2f} with {degrees} degrees of freedom, {chance}) a "
            "difference is shown.",
            **told,
        )
    return tr(
        "By ranks ({test}: {statistic:.2f} with {degrees} degrees of freedom, {chance}) a "
        "difference is not shown.",
        **told,
    )


def reach_sentences(found: TrialSummary, showing: Showing) -> list[str]:
    """Return the smallest difference that the trial could have shown, and what a smaller one needs."""
    reach = found.reach
    if reach is None:
        if found.without in ("no repeats", "no variation"):
            return [
                tr("Give each two plots or more, each with a reservoir of its own, drawn by lot.")
            ]
        return []
    said = [
        tr(
            "A trial like this one finds a true difference of {difference} ({percent:.0f} % of the "
            "mean) between two levels in {count:.0f} of 100 such trials. Smaller ones it mostly "
            "misses.",
            difference=yield_text(reach.difference, showing),
            percent=100 * reach.share,
            count=100 * reach.power,
        )
    ]
    wanted = 100 * reach.wanted
    if reach.wanted_plots is None:
        said.append(
            tr(
                "With plots as uneven as these no trial of a usual size finds {percent:.0f} %.",
                percent=wanted,
            )
        )
    elif reach.wanted_plots > reach.plots:
        said.append(
            tr(
                "To find {percent:.0f} % as often takes {plots} plots of each level; here stood "
                "{here:.2g} on average.",
                percent=wanted,
                plots=reach.wanted_plots,
                here=float(reach.plots),
            )
        )
    return said
