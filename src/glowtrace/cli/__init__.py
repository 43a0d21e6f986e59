"""The command line: tracing, planning, preparing, saved settings and the page.

A command's module is loaded when the command is called, and everything heavy inside the command,
so that help, errors and completion are quick.
"""

from __future__ import annotations

import io
import re
import sys
import warnings
from typing import Annotated, TextIO

import typer

from glowtrace.cli.loading import CONTEXT, Program, list_commands
from glowtrace.errors import GlowtraceError, GlowtraceWarning
from glowtrace.version import __version__

BAD_INPUT, STOPPED = 2, 130

app = typer.Typer(
    name="glowtrace",
    cls=Program,
    context_settings=CONTEXT,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help needs no rich, and half the time
    help="Rehearse electron-beam demonstrations with the real fields of your own bench.",
    epilog='Begin with: glowtrace trace "deflection tube" --picture first.png',
)


def main() -> None:
    """Run the program.

    The exit code is 0 when all went well, 1 for a result that says no (a goal out of reach, a
    safety check that says stop), 2 for bad input, 70 for a fault of the program itself, 130 when
    stopped by the user.
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
            stop = "" if message.endswith("?") else "."
            return _tell(f"{message}{stop} See: {path} --help", BAD_INPUT)
        except (typer.Abort, KeyboardInterrupt):
            return _tell("stopped", STOPPED)
        except Exception as error:
            from glowtrace.cli.crash import CRASHED, report_crash

            return _tell(report_crash(error, arguments), CRASHED)
    if code == STOPPED:
        return _tell("stopped", STOPPED)
    return code if isinstance(code, int) else 0


def _tell(message: str, code: int) -> int:
    """Tell why the program ends.

    What was given may hold codes that would steer the terminal, or fill it.
    """
    short = re.sub(r"(\S{200})\S{300,}", r"\1…", message)
    safe = "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in short)
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
        typer.echo(f"glowtrace {__version__}")
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
    list_commands(context)
