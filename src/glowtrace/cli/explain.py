"""The command that explains: forces and energies on the way, causes, and wrong accounts judged."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import getting_ready, heading, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, ModelChoice, Overwrite, find_bench
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph, print_table
from glowtrace.words.bench import bench_name, model_caption

if TYPE_CHECKING:
    from glowtrace.bench.prepared import PreparedBench
    from glowtrace.bench.settings import Settings
    from glowtrace.explain.accounts import WrongAccount
    from glowtrace.explain.differences import Differences
    from glowtrace.explain.explanation import Explanation
    from glowtrace.explain.spread import Spread

EXAMPLES = """Examples:

\b
glowtrace explain "deflection tube" --accelerating "3 kV" --plate "1 kV" --coil "140 mA"
glowtrace explain "fine-beam bulb" --part motion --table path.csv
glowtrace explain "deflection tube" --part accounts --answers
"""


class Part(StrEnum):
    """A part of the explanation, as it is called on the command line."""

    MOTION = "motion"
    DIFFERENCES = "differences"
    SPREAD = "spread"
    ACCOUNTS = "accounts"


@with_groups
def explain(
    bench: BenchChoice,
    options: SettingsOptions,
    model: ModelChoice = "bench",
    part: Annotated[
        list[Part] | None,
        typer.Option(
            "--part",
            metavar="PART",
            help="Tell this part only: motion, differences (from the textbook), spread (of the "
            "line) or accounts (that are often told); may be repeated.",
        ),
    ] = None,
    answers: Annotated[
        bool, typer.Option("--answers", help="Tell the whole answer to every account.")
    ] = False,
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write every point of the path to a .csv file."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Explain the trace: forces, energies, causes.

    One electron is followed, also as somebody sees it who moves along with the drift. Every
    difference from the textbook and every cause of the width has its share, and wrong accounts
    that are often told are judged, all by what is computed for the bench at these settings.
    """
    parts = tuple(part) if part else tuple(Part)
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        table = outputs.want("--table", table, (".csv",))
        found = find_bench(bench)
        settings = options.choose(found)
        with getting_ready(found) as (prepared, show):
            from glowtrace.explain.explanation import explain as explain_trace

            trace = explain_trace(prepared, settings, model=model)
            made = _compute(prepared, settings, trace, parts, show)
        if table is not None:
            from glowtrace.explain.path_table import path_table
            from glowtrace.report.output import write_output

            write_output(table, path_table(trace.account).encode())
            outputs.note(table)

        def record() -> dict[str, Any]:
            from glowtrace.report.explanation_record import explanation_record

            return explanation_record(trace, made.differences, made.spread, made.accounts)

        present(
            outputs,
            "explanation",
            record,
            lambda: _tell(prepared, trace, made, parts, answers=answers),
            as_json=as_json,
        )


@dataclass
class _Made:
    """What was computed besides the motion; None for a part that was not wanted."""

    differences: Differences | None = None
    spread: Spread | None = None
    accounts: tuple[WrongAccount, ...] | None = None


def _compute(
    prepared: PreparedBench,
    settings: Settings,
    trace: Explanation,
    parts: tuple[Part, ...],
    show: Any,
) -> _Made:
    made = _Made()
    if Part.DIFFERENCES in parts:
        from glowtrace.explain.differences import find_differences

        made.differences = find_differences(
            prepared,
            settings,
            progress=lambda done, words: show(done, f"differences from the textbook, {words}"),
        )
    if Part.SPREAD in parts:
        from glowtrace.explain.spread import find_spread

        made.spread = find_spread(
            prepared,
            settings,
            model=trace.model,
            progress=lambda done, words: show(done, f"width, cause by cause, {words}"),
        )
    if Part.ACCOUNTS in parts:
        from glowtrace.explain.accounts import wrong_accounts

        made.accounts = wrong_accounts(prepared, trace)
    return made


def _tell(
    prepared: PreparedBench,
    trace: Explanation,
    made: _Made,
    parts: tuple[Part, ...],
    *,
    answers: bool,
) -> None:
    from glowtrace.report.caption import settings_words

    bench = prepared.bench
    typer.echo(bench_name(bench))
    print_paragraph(
        " · ".join((*settings_words(trace.settings, bench), model_caption(trace.model)))
    )
    if not trace.flies:
        typer.echo("\nNo electron leaves the gun at these settings: there is nothing to explain.")
        return
    if Part.MOTION in parts:
        _tell_motion(trace)
    if Part.DIFFERENCES in parts:
        _tell_differences(made.differences)
    if Part.SPREAD in parts:
        _tell_spread(made.spread)
    if Part.ACCOUNTS in parts:
        _tell_accounts(made.accounts or (), answers=answers)


def _tell_motion(trace: Explanation) -> None:
    """Tell the electron at the named places, what of its energy is kept, and the moving frame."""
    import numpy as np

    from glowtrace.constants import ELEMENTARY_CHARGE
    from glowtrace.explain.drift_frame import DriftFrame
    from glowtrace.explain.writing import circle_text, energy_text, speed_text
    from glowtrace.units import scientific

    heading("The electron on its way")
    rows = []
    for mark in trace.marks:
        now = trace.instant(mark.at)
        electric, magnetic = (
            float(np.linalg.norm(force)) for force in (now.electric_force, now.magnetic_force)
        )
        x, y, _ = (1e3 * now.position).tolist()
        rows.append((
            mark.name, f"{1e9 * now.time:.2f}", f"{x:.1f}", f"{y:.1f}", f"{1e-6 * now.speed:.2f}",
            f"{now.kinetic_energy / ELEMENTARY_CHARGE:.1f}",
            f"{1e15 * electric:.3g}", f"{1e15 * magnetic:.3g}",
        ))  # fmt: skip
    heads = (
        "", "time\nns", "x\nmm", "y\nmm", "speed\n10⁶ m/s", "kinetic\neV",
        "electric\n10⁻¹⁵ N", "magnetic\n10⁻¹⁵ N",
    )  # fmt: skip
    print_table(heads, rows, numbers=range(1, len(heads)))
    account = trace.account
    lost = float(np.abs(account.energy_residual).max()) / ELEMENTARY_CHARGE
    print_paragraph(
        f"Kinetic and potential energy add up to the same within {scientific(lost, 'eV', 1)}; "
        "the magnetic force does no work."
    )
    if abs(account.edge_step) > ELEMENTARY_CHARGE:
        print_paragraph(
            f"The sharp edges of the uniform field are wrong by {energy_text(account.edge_step)}."
        )
    frame = trace.frame
    if isinstance(frame, DriftFrame) and not frame.is_laboratory:
        text = f"Seen by somebody who moves along at {speed_text(frame.speed)} (E over B), "
        circle = frame.circle
        print_paragraph(
            text + (
                f"the electron runs round {circle_text(circle.radius, circle.roughness)}."
                if circle is not None
                else "the electron stands nearly still."
            )
        )  # fmt: skip


def _tell_differences(found: Differences | None) -> None:
    from glowtrace.explain.writing import shift_text

    heading("Why it is not as in the textbook")
    if found is None:
        typer.echo("No electron flies.")
        return
    print_paragraph(
        f"{found.compared}: {shift_text(found.textbook, signed=False)} in the textbook for slow "
        f"electrons, {shift_text(found.bench, signed=False)} on this bench."
    )
    shares = [(each.name, each.share) for each in found.parts]
    print_table(
        ("cause", "share", "least", "most"),
        [
            (name, *(shift_text(value) for value in (share.mean, share.least, share.most)))
            for name, share in shares
        ],
        numbers=(1, 2, 3),
    )
    print_paragraph("The share is the mean over all orders of switching the causes on.")


def _tell_spread(found: Spread | None) -> None:
    from glowtrace.explain.writing import measured_text, share_text

    what = "spot" if found is not None and found.is_spot else "line"
    heading(f"Why the {what} is as wide as it is")
    if found is None:
        typer.echo("No width can be given here.")
        return
    width = measured_text(found.width, found.uncertainty)
    typer.echo(f"Width of the {what} {found.place}: {width} (two standard deviations)")
    print_table(
        ("cause", "of the squared width", "alone / mm"),
        [
            (part.name, share_text(part.told_share, part.uncertainty), f"{1e3 * part.alone:.2f}")
            for part in found.parts
        ],
        numbers=(1, 2),
    )
    print_paragraph("In brackets: the uncertainty of the last digits, from other electrons.")


def _tell_accounts(accounts: tuple[WrongAccount, ...], *, answers: bool) -> None:
    heading("Often told")
    for account in accounts:
        print_paragraph(account.claim, lead="- ")
        print_paragraph(f"{account.verdict.capitalize()}. {account.short}", lead="    ")
        if answers:
            print_paragraph(account.answer, lead="    ")
