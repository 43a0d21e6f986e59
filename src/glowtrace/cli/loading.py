"""One group of commands, each loaded when it is asked for, so that the program starts at once."""

from __future__ import annotations

from difflib import get_close_matches
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

PLACES = {
    "bench": "bench:bench_commands",
    "trace": "trace:trace",
    "goals": "goals:goals",
    "plan": "plan:plan",
    "outcomes": "outcomes:outcomes",
    "sweep": "sweep:sweep",
    "study": "study:study",
    "wiring": "wiring:wiring",
    "safety": "safety:safety",
    "sheet": "sheet:sheet",
    "shots": "shots:shots",
    "faults": "faults:faults",
    "light": "light:light",
    "clip": "clip:clip",
    "film": "film:film",
    "worksheet": "worksheet:worksheet",
    "explain": "explain:explain",
    "readings": "readings:readings",
    "measure": "measure:measure",
    "redo": "measure_redo:redo",
    "photograph": "photograph:photograph",
    "calibration": "calibration:calibration_commands",
    "settings": "settings:settings_commands",
    "logbook": "logbook:logbook_commands",
    "lesson": "lesson:lesson_commands",
    "backup": "backup:backup",
    "restore": "backup:restore",
    "page": "page:show_page",
}
"""Where each command is: a module of this package and a name in it."""


def one_spelling(word: str) -> str:
    """Give the name of an option or a choice in its one spelling: dashes for underscores."""
    return word.replace("_", "-")


CONTEXT: dict[Any, Any] = {
    "help_option_names": ["-h", "--help"],
    "token_normalize_func": one_spelling,
}
"""What all commands have alike: `-h`, and options with underscores."""


class Group(TyperGroup):
    """A group that names the nearest command for a wrong name."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Find the command that was asked for."""
        name = args[0] if args else ""
        if name and not name.startswith("-") and self.get_command(ctx, name) is None:
            names = self.list_commands(ctx)
            close = get_close_matches(name, names, n=1)
            advice = f'did you mean "{close[0]}"?' if close else f"choose {', '.join(names)}"
            ctx.fail(f'There is no command "{name}"; {advice}')
        return super().resolve_command(ctx, args)


class Program(Group):
    """The commands of `PLACES`."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Give their names in the order of the help."""
        return list(PLACES)

    def get_command(self, ctx: Any, name: str) -> Any:
        """Load a command; None where there is none of that name."""
        if name not in PLACES:
            return None
        if name not in self.commands:
            place, _, attribute = PLACES[name].partition(":")
            module = import_module(f"glowtrace.cli.{place}")
            holder = found = getattr(module, attribute)
            if not isinstance(found, typer.Typer):
                holder = typer.Typer(rich_markup_mode=None, add_completion=False)
                holder.command(name, epilog=getattr(module, "EXAMPLES", None))(found)
            self.commands[name] = typer.main.get_command(holder)
            self.commands[name].name = name
        return self.commands[name]


def group(words: str) -> typer.Typer:
    """Give a group of commands to add to; called alone it lists them."""
    made = typer.Typer(help=words, cls=Group, rich_markup_mode=None, add_completion=False)
    made.callback(invoke_without_command=True)(list_commands)
    return made


def list_commands(context: typer.Context) -> None:
    """Tell the help of a group that was called without a command."""
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())
