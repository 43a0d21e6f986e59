"""How the search for a fault is told on a terminal."""

from __future__ import annotations

from collections.abc import Sequence

import typer

from glowtrace.bench.model import Bench
from glowtrace.bench.settings import Settings
from glowtrace.cli.printing import print_paragraph, print_table
from glowtrace.faults import WORTH, Advice, Check, Fault, Ranking, Safety, Statement, next_checks
from glowtrace.report.caption import settings_words
from glowtrace.words.bench import bench_name
from glowtrace.words.faults import statement_words

_TOLD = 6
"""Causes that are told at most."""
_SLIGHT = 0.02
"""Probability below which a cause or an outcome is not told."""
SAFETY_WORDS = {
    Safety.SAFE: "look, or turn a knob",
    Safety.OFF: "everything off and discharged",
    Safety.LEAD: "a lead is moved: everything off and discharged",
    Safety.RESPONSIBLE: "the person responsible only",
}
_SURE = 0.9
"""Probability from which a cause counts as found."""
_NO_MORE = (
    "No further check would tell much: do what cures it, and see whether the picture is right."
)
_NOT_TOLD_APART = (
    "No check here tells these causes apart: draw the line that is seen (--trace), or ask the "
    "person responsible."
)
_ALWAYS = (
    "Before any lead, plug or part is touched: high tension off and unplugged, discharged, waited, "
    "and verified by the person responsible. Anything that sparks or smells: off at once. "
    "Local rules come first."
)


def tell_ranking(ranking: Ranking, checks: int) -> None:
    """Tell the causes, what cures the first, and the next checks."""
    bench, settings = ranking.suspects.bench, ranking.suspects.settings
    _head(bench, settings)
    print_paragraph(_ALWAYS)
    typer.echo()
    rows = [
        (row.fault.title, _percent(row.probability, row.uncertainty))
        for row in ranking.standings[:_TOLD]
        if row.probability >= _SLIGHT
    ]
    print_table(("likely cause", "probability"), rows, numbers={1})
    typer.echo()
    if ranking.nothing_fits:
        print_paragraph(
            "None of the known faults explains this. Two faults at once, or something else: switch "
            "everything off, discharge, and ask the person responsible before going on."
        )
    else:
        first = ranking.first.fault
        print_paragraph(first.why, lead="Why: ")
        print_paragraph(first.remedy, lead="Cure: ")
    if ranking.suspects.hidden:
        names = "; ".join(fault.title for fault in ranking.suspects.hidden)
        print_paragraph(f"Hardly to be seen at these settings: {names}.")
    worth = [one for one in next_checks(ranking, checks) if one.information >= WORTH]
    for number, one in enumerate(worth, start=1):
        typer.echo()
        _tell_advice(number, one)
    if not worth:
        typer.echo()
        print_paragraph(_NO_MORE if ranking.first.probability > _SURE else _NOT_TOLD_APART)
    typer.echo()
    print_paragraph(
        "Probabilities from the real-geometry model (bench), with the uncertainty of the "
        "simulation alone; the prior odds are common practice, no source."
    )


def tell_possibilities(
    bench: Bench,
    settings: Settings,
    statements: Sequence[Statement],
    faults: Sequence[Fault],
    checks: Sequence[Check],
) -> None:
    """Tell what can be said, what can be wrong, and what can be checked."""
    _head(bench, settings)
    typer.echo("What can be said (--seen, --not-seen), by its key or its sentence")
    print_table(("key", "sentence"), [(one.key, statement_words(one)) for one in statements])
    typer.echo("\nWhat can be wrong, before anything is known")
    whole = sum(fault.odds for fault in faults)
    rows = [
        (fault.title, fault.group, _percent(fault.odds / whole))
        for fault in sorted(faults, key=lambda fault: -fault.odds)
    ]
    print_table(("cause", "where", "probability"), rows, numbers={2})
    typer.echo("\nWhat can be checked (--answer CHECK=OUTCOME)")
    for check in checks:
        typer.echo(f"  {check.key} ({SAFETY_WORDS[check.safety]})")
        for outcome in check.outcomes:
            typer.echo(f"    ={outcome}")
    typer.echo()
    print_paragraph(_ALWAYS)
    print_paragraph("The probabilities are common practice, no source.")


def _head(bench: Bench, settings: Settings) -> None:
    typer.echo(bench_name(bench))
    print_paragraph("set: " + " · ".join(settings_words(settings, bench)))
    typer.echo()


def _tell_advice(number: int, advice: Advice) -> None:
    check = advice.check
    head = "Next check" if number == 1 else f"Check {number}"
    about = f"{check.minutes:g} min" if check.minutes >= 1 else "half a minute"
    typer.echo(
        f"{head}: {check.key} ({SAFETY_WORDS[check.safety]}; about {about}; "
        f"{advice.information:.1f} bit)"
    )
    print_paragraph(check.do, lead="  ")
    for one in advice.prospects:
        if one.probability >= _SLIGHT:
            print_paragraph(f"{one.outcome} ({_percent(one.probability)}). {one.meaning}",
                            lead="  - ")  # fmt: skip


def _percent(share: float, uncertainty: float | None = None) -> str:
    if share > 0.995:
        return "over\u00a099\u00a0%"
    if uncertainty is None:
        return f"{100 * share:.0f}\u00a0%"
    return f"{100 * share:.0f}\u00a0±\u00a0{max(1.0, 100 * uncertainty):.0f}\u00a0%"
