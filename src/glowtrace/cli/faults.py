"""The command that looks for a fault: what is seen in; causes ranked and the next check out."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import about, getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, find_bench, read_text
from glowtrace.cli.printing import print_json
from glowtrace.cli.ranges import read_quantity
from glowtrace.errors import BenchError, GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings
    from glowtrace.faults import Ranking, Sighting

UNEXPLAINED = 1
"""Exit code where none of the faults explains what is seen."""
_MOST_CHECKS, _MOST_DRAWS = 30, 1000
_FEWEST_POINTS, _MOST_POINTS = 1, 10_000

EXAMPLES = """Examples:

\b
glowtrace faults "deflection tube" --accelerating "3 kV" --plate "900 V" --coil "100 mA"
glowtrace faults "deflection tube" --accelerating "3 kV" --plate "900 V" --coil "100 mA" \\
    --seen "line bends down" --answer "coil current=line does not move"
glowtrace faults "fine-beam bulb" --coil "1.6 A" --accelerating "210 V" --trace points.csv

Without --seen, --not-seen, --trace and --answer it lists what can be said, done and wrong.
"""

Words = list[str] | None


@with_groups
def faults(
    bench: BenchChoice,
    options: SettingsOptions,
    seen: Annotated[
        Words,
        typer.Option(
            "--seen",
            metavar="STATEMENT",
            help='What is seen, by its key or its sentence: "up" or "line bends up"; may be '
            "repeated.",
        ),
    ] = None,
    not_seen: Annotated[
        Words,
        typer.Option("--not-seen", metavar="STATEMENT", help="What is not; may be repeated."),
    ] = None,
    trace: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="A .csv file with the line as it is seen: columns u_mm and v_mm, as "
            "`glowtrace photograph --points` writes them. Of a spot: its middle, or its edge.",
        ),
    ] = None,
    trace_at: Annotated[
        Words,
        typer.Option(
            "--trace-at",
            metavar="CHECK=FILE",
            help='The same after a knob was turned, as in "coil current=off.csv"; may be repeated.',
        ),
    ] = None,
    trace_error: Annotated[
        str | None,
        typer.Option(
            "--trace-error",
            metavar="LENGTH",
            help="How far off the points may be; 2.5 mm where they are drawn by hand, 0.8 mm where "
            "the file comes from a photograph.",
        ),
    ] = None,
    answer: Annotated[
        Words,
        typer.Option(
            "--answer",
            metavar="CHECK=OUTCOME",
            help='A check that was made: "coil current=line does not move"; may be repeated.',
        ),
    ] = None,
    checks: Annotated[
        int,
        typer.Option(metavar="N", min=1, max=_MOST_CHECKS, help="How many checks to suggest."),
    ] = 3,
    draws: Annotated[
        int,
        typer.Option(
            metavar="N",
            min=2,
            max=_MOST_DRAWS,
            help="Sizes of each fault that are simulated: more take longer and are surer.",
        ),
    ] = 32,
    as_json: AsJson = False,
) -> None:
    """Rank what may be wrong, and name the next check.

    The settings are those that knobs and meters show. Where none of the faults explains what is
    seen, the exit code is 1. Before any lead is touched: high tension off and discharged.
    """
    found = find_bench(bench)
    settings = options.choose(found)
    drawn = _drawn(trace, trace_at or [], trace_error)
    sighting = _sighting(found, settings, seen or (), not_seen or (), drawn)
    answers = [_pair("--answer", text, "CHECK=OUTCOME") for text in answer or ()]
    if sighting.says_nothing and not answers:
        _list(found, settings, as_json)
        return
    _require_known(found, settings, sighting, answers)
    ranking = _rank(found, settings, sighting, answers, draws)

    def tell() -> None:
        from glowtrace.cli.fault_words import tell_ranking

        tell_ranking(ranking, checks)

    def record() -> dict[str, Any]:
        from glowtrace.faults import next_checks

        found_out = {**ranking.as_dict(), "next_checks": [
            one.as_dict() for one in next_checks(ranking, checks)
        ]}  # fmt: skip
        return found_out | about(found, settings)

    present(None, "faults", record, tell, as_json=as_json)
    if ranking.nothing_fits:
        raise typer.Exit(UNEXPLAINED)


def _require_known(
    bench: Bench, settings: Settings, sighting: Sighting, answers: list[tuple[str, str]]
) -> None:
    """Refuse statements, checks and outcomes of other names, before anything is computed.

    Raises
    ------
    BenchError
        It names all of them, each with the nearest that there is.
    """
    from glowtrace.bench.wrong_fields import unknown_name
    from glowtrace.faults import checks_for, statements_for
    from glowtrace.faults.sighting import contradictions
    from glowtrace.faults.variations import variations
    from glowtrace.words.faults import statement_words

    offered = statements_for(bench, settings)
    statements = [*map(statement_words, offered), *(one.key for one in offered)]
    states = [state.key for state in variations(bench, settings)]
    outcomes = {one.key: list(one.outcomes) for one in checks_for(bench, settings)}
    told = [
        *(("--seen", one, statements) for one in sighting.seen),
        *(("--not-seen", one, statements) for one in sighting.not_seen),
        *(("--trace-at", one, states) for one, _ in sighting.other_lines),
        *(("--answer", check, list(outcomes)) for check, _ in answers),
        *(("--answer", one, outcomes[check]) for check, one in answers if check in outcomes),
    ]
    problems = [unknown_name(option, one, known) for option, one, known in told if one not in known]
    problems += contradictions(sighting)
    if problems:
        raise BenchError("what is seen", problems)


def _rank(
    bench: Bench,
    settings: Settings,
    sighting: Sighting,
    answers: list[tuple[str, str]],
    draws: int,
) -> Ranking:
    with getting_ready(bench) as (prepared, show):
        from glowtrace.faults import prepare_suspects, rank, update

        suspects = prepare_suspects(prepared, settings, draws=draws, progress=show)
        ranking = rank(suspects, sighting)
        for check, outcome in answers:
            ranking = update(ranking, check, outcome)
    return ranking


def _list(bench: Bench, settings: Settings, as_json: bool) -> None:
    """Tell what can be said, done and wrong on this bench."""
    from glowtrace.faults import checks_for, faults_for, statements_for
    from glowtrace.words.faults import statement_words

    statements = statements_for(bench, settings)
    checks, known = checks_for(bench, settings), faults_for(bench, settings)
    if as_json:
        whole = sum(fault.odds for fault in known)
        print_json("fault-list", {"format": "glowtrace-fault-list 2"} | about(bench, settings) | {
            "statements": [
                {"key": one.key, "statement": statement_words(one)} for one in statements
            ],
            "faults": [
                {"fault": one.key, "title": one.title, "group": one.group,
                 "probability": one.odds / whole, "odds_from": one.odds_from,
                 "why": one.why, "remedy": one.remedy}
                for one in known
            ],
            "checks": [
                {"check": one.key, "do": one.do, "safety": one.safety.name.lower(),
                 "duration_s": 60.0 * one.minutes, "outcomes": list(one.outcomes)}
                for one in checks
            ],
        })  # fmt: skip
        return
    from glowtrace.cli.fault_words import tell_possibilities

    tell_possibilities(bench, settings, statements, known, checks)


def _pair(option: str, text: str, form: str) -> tuple[str, str]:
    """Split "name=value".

    Raises
    ------
    BenchError
        The text has another form.
    """
    name, sign, value = text.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise BenchError("what is seen", [Problem(option, f'"{text}"', f"give {form}")])
    return name.strip(), value.strip()


_Drawn = tuple[tuple[tuple[str, tuple[tuple[float, float], ...]], ...], float | None]


def _drawn(trace: Path | None, trace_at: list[str], error: str | None) -> _Drawn:
    """Read the lines that were drawn, with their states, and how far off they may be (m)."""
    from glowtrace.faults import PHOTOGRAPHED, SKETCHED

    wanted = [("as set", trace)] if trace is not None else []
    wanted += [
        (key, Path(file))
        for key, file in (_pair("--trace-at", text, "CHECK=FILE") for text in trace_at)
    ]
    lines, photographed = [], bool(wanted)
    for key, path in wanted:
        points, is_measured = read_points(path)
        lines.append((key, points))
        photographed &= is_measured
    if error is None:
        return tuple(lines), PHOTOGRAPHED if photographed else SKETCHED
    return tuple(lines), read_quantity("what is seen", "--trace-error", error, "m")


def read_points(path: Path) -> tuple[tuple[tuple[float, float], ...], bool]:
    """Read the points (u, v) of a line in m, and whether they come with uncertainties.

    Raises
    ------
    GlowtraceError
        The file cannot be read, or has no such columns.
    """
    try:
        rows = list(csv.DictReader(read_text(path).splitlines()))
    except csv.Error as failure:
        raise GlowtraceError(f'"{path}" cannot be read as a .csv file: {failure}') from None
    try:
        points = tuple((float(row["u_mm"]) / 1e3, float(row["v_mm"]) / 1e3) for row in rows)
    except (KeyError, ValueError, TypeError):
        raise GlowtraceError(
            f'"{path}": give columns u_mm and v_mm with a number in every row, separated by commas.'
        ) from None
    if not _FEWEST_POINTS <= len(points) <= _MOST_POINTS:
        raise GlowtraceError(
            f'"{path}" has {len(points)} points; give {_FEWEST_POINTS} to {_MOST_POINTS}.'
        )
    return points, "v_uncertainty_mm" in rows[0]


def _sighting(
    bench: Bench,
    settings: Settings,
    seen: Sequence[str],
    not_seen: Sequence[str],
    drawn: _Drawn,
) -> Sighting:
    from glowtrace.faults import SKETCHED, Sighting, statements_for
    from glowtrace.words.faults import named_statement

    offered = statements_for(bench, settings)
    keys, denied = (
        tuple(named_statement(text, offered) for text in told) for told in (seen, not_seen)
    )
    lines, error = drawn
    as_set = dict(lines).get("as set", ())
    others = tuple((key, points) for key, points in lines if key != "as set")
    return Sighting(keys, denied, as_set, error or SKETCHED, others)
