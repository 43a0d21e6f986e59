"""Bring README and docs in step with the program (`python3 tasks.py docs`; `--check` only looks).

Between a line `<!-- generated: NAME -->` and the next `<!-- end -->` a Markdown file carries text
that is made here from what the program itself says: its command help, the first example, the list
of examples. The picture of the layers is drawn from the contract that import-linter enforces.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import typer
from pydantic import BaseModel

from architecture_picture import architecture_picture
from glowtrace.bench.meanings import PARTS, explained, kinds_of, numbers_of
from glowtrace.bench.ranges import Quantity
from glowtrace.bench.settings import Settings
from glowtrace.cli import app
from glowtrace.measure.methods import COLUMNS, READ_OFF, Column
from glowtrace.units import exact_text

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = sorted((ROOT / "docs" / "examples").glob("[0-9][0-9]_*.py"))
GENERATED = re.compile(r"(<!-- generated: ([a-z ]+) -->\n).*?(<!-- end -->)", re.DOTALL)


def commands() -> Iterator[tuple[Any, Any]]:
    """Give every command as (context, command), in the order of the program's own help."""
    group = typer.main.get_command(app)
    yield from _commands_of(group, group.make_context("glowtrace", [], resilient_parsing=True))


def _commands_of(group: Any, context: Any) -> Iterator[tuple[Any, Any]]:
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if command.hidden:
            continue
        inner = type(context)(command, info_name=name, parent=context)
        if hasattr(command, "list_commands"):
            yield from _commands_of(command, inner)
        else:
            yield inner, command


def command_table() -> str:
    """One line a command, for the README."""
    rows = [
        f"| `{context.command_path}` | {command.get_short_help_str(100)} |"
        for context, command in commands()
    ]
    return "\n".join(["| command | what it does |", "|---|---|", *rows])


def command_help() -> str:
    """Usage, words and parameters of every command."""
    return "\n\n".join(_help_of(context, command) for context, command in commands())


def _help_of(context: Any, command: Any) -> str:
    records = [parameter.get_help_record(context) for parameter in command.params]
    rows = [f"| `{_cell(name)}` | {_cell(words)} |" for name, words in filter(None, records)]
    parts = [
        f"## {context.command_path}",
        "```\n" + command.get_usage(context) + "\n```",
        (command.help or "").strip(),
    ]
    if rows:
        parts.append("\n".join(["| parameter | meaning |", "|---|---|", *rows]))
    return "\n\n".join(parts)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def first_example() -> str:
    """The first example as it stands, without its docstring."""
    source = EXAMPLES[0].read_text(encoding="utf-8")
    docstring = ast.parse(source).body[0]
    code = "\n".join(source.splitlines()[docstring.end_lineno :]).strip()
    return f"```python\n{code}\n```"


def example_list() -> str:
    """Every numbered example with the first line of its docstring."""
    lines = []
    for example in EXAMPLES:
        says = ast.get_docstring(ast.parse(example.read_text(encoding="utf-8"))) or ""
        lines.append(f"- [{example.name}](examples/{example.name}): {says.splitlines()[0]}")
    return "\n".join(lines)


def bench_numbers() -> str:
    """Every number of a bench file, part by part: what it means, how to find it, its range."""
    return "\n\n".join(
        _numbers_of_kind(part, kind, name)
        for part, name in PARTS.items()
        for kind in kinds_of(part)
    )


def _numbers_of_kind(part: str, kind: type[BaseModel], name: str) -> str:
    told = kind.model_fields.get("kind")
    head = f"## {name}: `[{part}]`" + (f', `kind = "{told.default}"`' if told else "")
    rows = []
    for number in numbers_of(part, kind):
        left_out = "" if number.declared.is_required() else " It may be left out."
        cells = number.meaning.name, explained(number) + left_out
        name = number.path.rpartition(".")[2]
        rows.append(f"| `{name}` | {' | '.join(map(_cell, cells))} |")
    return "\n".join([head, "", "| field | name | meaning and range |", "|---|---|---|", *rows])


def settings_fields() -> str:
    """Every field of a settings file: what it means, its range, what holds where it is left out."""
    rows = ["| field | meaning and range | left out |", "|---|---|---|"]
    for name, field in Settings.model_fields.items():
        ranges = [f"{q.low} to {q.high}." for q in field.metadata if isinstance(q, Quantity)]
        told = " ".join([field.description or "", *ranges])
        left_out = "not allowed" if field.is_required() else _as_toml(field.default)
        rows.append(f"| `{name}` | {_cell(told)} | {left_out} |")
    return "\n".join(rows)


def _as_toml(value: object) -> str:
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f'`"{value}"`' if isinstance(value, str) else "0"


def readings_columns() -> str:
    """Every column of each method's table of readings, with its range."""
    rows = ["| method | column | range | |", "|---|---|---|---|"]
    for method, columns in COLUMNS.items():
        for column in columns:
            is_answer = READ_OFF[method] == column.name
            notes = [*(["what the others decide"] if is_answer else []), _left_out(column)]
            cells = f'`"{method}"`', f"`{column.head}`", _range_of(column)
            rows.append(f"| {' | '.join(cells)} | {'; '.join(filter(None, notes))} |")
    return "\n".join(rows)


def _left_out(column: Column) -> str:
    if column.is_needed:
        return ""
    if column.default is None:
        return "may be left out"
    return f"left out: {exact_text(column.default, column.unit)}"


def _range_of(column: Column) -> str:
    low, high = (exact_text(end, column.unit) for end in (column.low, column.high))
    return f"{low} to {high}"


BLOCKS: dict[str, Callable[[], str]] = {
    "command table": command_table,
    "command help": command_help,
    "first example": first_example,
    "example list": example_list,
    "bench numbers": bench_numbers,
    "settings fields": settings_fields,
    "readings columns": readings_columns,
}


def in_step(markdown: str) -> str:
    """Give the text with every generated block made anew."""

    def fill(block: re.Match[str]) -> str:
        return f"{block[1]}\n{BLOCKS[block[2]]()}\n\n{block[3]}"

    return GENERATED.sub(fill, markdown)


def wanted_files() -> dict[Path, str]:
    """Every file that has generated parts, as it should be."""
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    wanted = {page: in_step(page.read_text(encoding="utf-8")) for page in pages}
    wanted[ROOT / "docs" / "architecture.svg"] = architecture_picture(ROOT / "pyproject.toml")
    return wanted


def main(arguments: list[str]) -> int:
    """Write what is stale, or with --check only name it; gives the exit status."""
    stale = {
        path: text
        for path, text in wanted_files().items()
        if not path.exists() or path.read_text(encoding="utf-8") != text
    }
    names = ", ".join(str(path.relative_to(ROOT)) for path in stale)
    if "--check" in arguments:
        if stale:
            print(f"Out of step with the program: {names}. Run: python3 tasks.py docs")
        return 1 if stale else 0
    for path, text in stale.items():
        path.write_text(text, encoding="utf-8", newline="\n")
    print(f"Brought in step: {names}" if stale else "README and docs are in step.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
