"""The command that tells how a bench is connected, and what to see while switching on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, EarthChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph, print_table

if TYPE_CHECKING:
    from glowtrace.plan.wiring import Lead, Wiring

EXAMPLES = """Examples:

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
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """List the leads of a bench, and checks for switching on.

    Every check was computed for these very leads, at a low voltage.
    """
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        diagram = outputs.want("--diagram", diagram, (".svg",))
        found = find_bench(bench)
        settings = options.choose(found)
        with getting_ready(found) as (prepared, _):
            from glowtrace.plan.wiring import wire

            made = wire(found, settings, earthed=earth, prepared=prepared)
        if diagram is not None:
            from glowtrace.plan.diagram import wiring_diagram
            from glowtrace.report.output import write_output

            write_output(diagram, wiring_diagram(found, settings, made).encode())
            outputs.note(diagram)
        present(
            outputs,
            "wiring",
            lambda: _record(made),
            lambda: _tell(made),
            as_json=as_json,
            bench=found,
            settings=settings,
        )


def _record(made: Wiring) -> dict[str, Any]:
    """Give the wiring as plain data; numbers carry their unit in the key."""
    from glowtrace.bench.ratings import settings_record

    checks = [
        {
            "number": check.number,
            "do": check.do,
            "expect": check.expect,
            "if_wrong": check.if_wrong,
            "settings": settings_record(check.settings),
            "shift_up_m": check.shift and check.shift[0],
            "shift_towards_audience_m": check.shift and check.shift[1],
            "at_x_m": check.at_x,
            "exchange": check.exchange,
        }
        for check in made.checks
    ]
    return {
        "earthed": made.earthed,
        "leads": made.leads,
        "reversals": made.reversals,
        "checks": checks,
        "notes": made.notes,
        "middle_resistors": _middle(made),
    }


def _middle(made: Wiring) -> dict[str, Any] | None:
    """Give the resistors of the plates' middle; None where none are needed."""
    middle = made.middle
    if middle is None:
        return None
    return {
        "highest_voltage_v": middle.voltage,
        "pieces_each": middle.pieces,
        "piece_ohm": middle.piece,
        "piece_voltage_v": middle.piece_voltage,
        "piece_rated_power_w": middle.rated_power,
        "load_a": middle.load,
        "collected_current_a": middle.collected,
        "move_of_middle_v": middle.move,
        "is_stiff": middle.is_stiff,
        "discharge_time_constant_s": middle.time_constant,
    }


def _tell(made: Wiring) -> None:
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
