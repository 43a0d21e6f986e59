"""The command line: tracing, planning, preparing, saved settings and the page.

Everything heavy is imported inside the commands, so that help and errors are quick.
"""

from __future__ import annotations

import io
import sys
import warnings
from typing import Annotated, TextIO

import typer

from glowtrace.cli.bench import bench_commands
from glowtrace.cli.calibration import calibration_commands
from glowtrace.cli.clip import CLIP_EXAMPLES, clip
from glowtrace.cli.explain import EXPLAIN_EXAMPLES, explain
from glowtrace.cli.faults import FAULTS_EXAMPLES, faults
from glowtrace.cli.goals import goals
from glowtrace.cli.light import LIGHT_EXAMPLES, light
from glowtrace.cli.logbook import logbook_commands
from glowtrace.cli.measure import MEASURE_EXAMPLES, measure
from glowtrace.cli.measure_redo import REDO_EXAMPLES, redo
from glowtrace.cli.outcomes import OUTCOMES_EXAMPLES, outcomes
from glowtrace.cli.page import show_page
from glowtrace.cli.photograph import PHOTOGRAPH_EXAMPLES, photograph
from glowtrace.cli.plan import PLAN_EXAMPLES, plan
from glowtrace.cli.readings import READINGS_EXAMPLES, readings
from glowtrace.cli.safety import SAFETY_EXAMPLES, safety
from glowtrace.cli.settings import settings_commands
from glowtrace.cli.sheet import SHEET_EXAMPLES, sheet
from glowtrace.cli.trace import EXAMPLES, trace
from glowtrace.cli.wiring import WIRING_EXAMPLES, wiring
from glowtrace.cli.worksheet import WORKSHEET_EXAMPLES, worksheet
from glowtrace.errors import GlowtraceError, GlowtraceWarning

BAD_INPUT, STOPPED = 2, 130

app = typer.Typer(
    name="glowtrace",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help needs no rich, and half the time
    help="Rehearse electron-beam demonstrations with the real fields of your own bench.",
    epilog='Begin with: glowtrace trace "deflection tube" --picture first.png',
)
app.add_typer(bench_commands, name="bench")
app.command(epilog=EXAMPLES)(trace)
app.command(epilog='Example: glowtrace goals "deflection tube"')(goals)
app.command(epilog=PLAN_EXAMPLES)(plan)
app.command(epilog=OUTCOMES_EXAMPLES)(outcomes)
app.command(epilog=WIRING_EXAMPLES)(wiring)
app.command(epilog=SAFETY_EXAMPLES)(safety)
app.command(epilog=SHEET_EXAMPLES)(sheet)
app.command(epilog=FAULTS_EXAMPLES)(faults)
app.command(epilog=LIGHT_EXAMPLES)(light)
app.command(epilog=CLIP_EXAMPLES)(clip)
app.command(epilog=WORKSHEET_EXAMPLES)(worksheet)
app.command(epilog=EXPLAIN_EXAMPLES)(explain)
app.command(epilog=READINGS_EXAMPLES)(readings)
app.command(epilog=MEASURE_EXAMPLES)(measure)
app.command(epilog=REDO_EXAMPLES)(redo)
app.command(epilog=PHOTOGRAPH_EXAMPLES)(photograph)
app.add_typer(calibration_commands, name="calibration")
app.add_typer(settings_commands, name="settings")
app.add_typer(logbook_commands, name="logbook")
app.command("page")(show_page)


def main() -> None:
    """Run the program.

    The exit code is 0 when all went well, 1 for a result that says no (a goal out of reach, a
    safety check that says stop), 2 for bad input, 130 when stopped by the user.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a letter is no failure
            stream.reconfigure(errors="replace")
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command and give the exit code; what went wrong is told on stderr, on one line.

    Several wrong fields of one file are told together, one a line.
    """
    with warnings.catch_warnings():
        warnings.showwarning = _tell_warning
        try:
            code = typer.main.get_command(app).main(arguments, "glowtrace", standalone_mode=False)
        except GlowtraceError as error:
            return _tell(str(error), BAD_INPUT)
        except typer.TyperException as error:
            context = getattr(error, "ctx", None)
            path = context.command_path if context is not None else "glowtrace"
            message = error.format_message().replace("Value error, ", "").rstrip(".")
            return _tell(f"{message}. See: {path} --help", BAD_INPUT)
        except (typer.Abort, KeyboardInterrupt):
            return _tell("stopped", STOPPED)
    if code == STOPPED:
        return _tell("stopped", STOPPED)
    return code if isinstance(code, int) else 0


def _tell(message: str, code: int) -> int:
    """Tell why the program ends; what was given may hold codes that would steer the terminal."""
    safe = "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in message)
    typer.echo(f"glowtrace: {safe}", err=True)
    return code


def _tell_warning(
    message: Warning | str,
    category: type[Warning],
    filename: str,
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    """Tell what the user should know as one line; other warnings with their place, as usual."""
    if issubclass(category, GlowtraceWarning):
        typer.echo(f"glowtrace: note: {message}", err=True)
    else:
        typer.echo(warnings.formatwarning(message, category, filename, lineno, line), err=True)


def _tell_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"glowtrace {version('glowtrace')}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def _program(
    context: typer.Context,
    shows_version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_tell_version, is_eager=True, help="Tell the version and end."
        ),
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())
