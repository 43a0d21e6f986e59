"""The command that tells how a bench is connected, and what to see while switching on."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, EarthChoice, find_bench
from glowtrace.cli.printing import print_json, print_paragraph, print_table, progress_bar
from glowtrace.words.bench import bench_name

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings
    from glowtrace.plan.wiring import Lead, Wiring

WIRING_EXAMPLES = """Examples:

\b
glowtrace wiring "deflection tube" --diagram wiring.svg
glowtrace wiring "deflection tube" --accelerating "3 kV" --plate "1 kV" --plate-tie "lower at anode"
"""


@with_groups
def wiring(
    bench: BenchChoice,
    options: SettingsOptions,
    earth: EarthChoice = "anode",
    diagram: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the wiring to an .svg file.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the leads of a bench, and checks for switching on.

    Every check was computed for these very leads, at a low voltage.
    """
    from glowtrace.report.output import require_ending, write_output

    if diagram is not None:
        require_ending(diagram, (".svg",))
    found = find_bench(bench)
    settings = options.choose(found)
    with progress_bar() as show:
        show(None, "getting ready")
        from glowtrace.bench.prepared import prepare
        from glowtrace.plan.wiring import wire

        made = wire(found, settings, earthed=earth, prepared=prepare(found, progress=show))
    if diagram is not None:
        from glowtrace.plan.diagram import wiring_diagram

        write_output(diagram, wiring_diagram(found, settings, made).encode())
    written = [] if diagram is None else [str(diagram)]
    if as_json:
        print_json(_record(made, found, settings) | {"written": written})
    else:
        _tell(made, found, settings)
        for path in written:
            typer.echo(f"written: {path}")


def _record(made: Wiring, bench: Bench, settings: Settings) -> dict[str, Any]:
    """Give the wiring as plain data; numbers carry their unit in the key."""
    from glowtrace.bench.ratings import settings_record

    checks = []
    for check in made.checks:
        shift = check.shift
        checks.append({
            "number": check.number,
            "do": check.do,
            "expect": check.expect,
            "if_wrong": check.if_wrong,
            "settings": settings_record(check.settings),
            "shift_up_m": None if shift is None else shift[0],
            "shift_towards_audience_m": None if shift is None else shift[1],
            "at_x_m": check.at_x,
            "exchange": None if check.exchange is None else list(check.exchange),
        })  # fmt: skip
    return {
        "bench": {"name": bench.name, "invented": bench.invented},
        "settings": settings_record(settings),
        "earthed": made.earthed,
        "leads": [asdict(lead) for lead in made.leads],
        "reversals": [asdict(reversal) for reversal in made.reversals],
        "checks": checks,
        "notes": list(made.notes),
    }


def _tell(made: Wiring, bench: Bench, settings: Settings) -> None:
    from glowtrace.report.caption import settings_words

    typer.echo(bench_name(bench))
    print_paragraph(" · ".join(settings_words(settings, bench)))
    typer.echo(f"earthed: {made.earthed}\n\nLeads, in the order of connecting\n")
    print_table(
        ("", "from", "to", "lead"),
        [(str(lead.number), lead.from_terminal, lead.to_terminal, lead.lead)
         for lead in made.leads],
        numbers=(0,),
    )  # fmt: skip
    typer.echo("\nWhat they are for")
    for why, numbers in _reasons(made.leads).items():
        print_paragraph(why, lead=f"  {', '.join(map(str, numbers))}: ")
    typer.echo("\nNotes")
    for words in (*made.notes, *(reversal.text for reversal in made.reversals)):
        print_paragraph(words, lead="  - ")
    typer.echo("\nChecks while switching on, in this order")
    for check in made.checks:
        print_paragraph(check.do, lead=f"{check.number:3}. ")
        print_paragraph(check.expect, lead="     See: ")
        print_paragraph(check.if_wrong, lead="     ")


def _reasons(leads: tuple[Lead, ...]) -> dict[str, list[int]]:
    """Give every reason once, with the numbers of its leads."""
    reasons: dict[str, list[int]] = {}
    for lead in leads:
        reasons.setdefault(lead.why, []).append(lead.number)
    return reasons
