"""Every command line that README, docs and helps show can be typed as it stands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer

from glowtrace.bench.ready_made import ready_made_names
from glowtrace.cli import app
from glowtrace.cli.loading import PLACES
from glowtrace.demos.goals import GOALS

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("**/*.md"))]
SHOWN = re.compile(r"^(?: {4,}|\t|\$ )(glowtrace [^\n]*)$", re.MULTILINE)
OWN_FILES = {"my-tube.toml", "your-tube.toml", "tube.toml"}


def shown() -> list[str]:
    pages = "\n".join(page.read_text(encoding="utf-8") for page in PAGES)
    joined = re.sub(r"\\\n\s*", "", pages)
    return sorted(set(SHOWN.findall(joined)) | set(examples()))


def examples() -> list[str]:
    """Give the lines of the helps."""
    group = typer.main.get_command(app)
    context = group.make_context("glowtrace", [], resilient_parsing=True)
    epilogs = [group.epilog or ""]
    for name in PLACES:
        command = group.get_command(context, name)
        epilogs.append(command.epilog or "")
        epilogs += [each.epilog or "" for each in getattr(command, "commands", {}).values()]
    text = re.sub(r"\\\n\s*", "", "\n".join(epilogs))
    return re.findall(r"^(?:Example: |Begin with: )?(glowtrace [^\n]*)$", text, re.MULTILINE)


LINES = shown()


def test_there_are_many():
    assert len(LINES) > 60
    assert len(examples()) > 30


@pytest.mark.parametrize("line", LINES)
def test_a_shown_line_is_understood(line):
    words = shlex.split(line.split(" > ")[0].split(" | ")[0])[1:]
    if "|" in words or any(word in ("COMMAND", "[OPTIONS]") for word in words):
        pytest.skip("a form of commands, and no command")
    command = typer.main.get_command(app)
    context = command.make_context("glowtrace", list(words), resilient_parsing=True)
    while hasattr(command, "get_command"):
        rest = [*context._protected_args, *context.args]
        if not rest:
            return
        command, name = command.get_command(context, rest[0]), rest[0]
        assert command is not None, name
        if rest[1:] in (["--help"], ["-h"]):
            return
        if hasattr(command, "get_command"):
            context = command.make_context(name, rest[1:], parent=context, resilient_parsing=True)
        else:
            context = command.make_context(name, rest[1:], parent=context)
    bench, goal = context.params.get("bench"), context.params.get("goal")
    if bench is not None:
        assert bench in (*ready_made_names(), "my tube") or bench.endswith(".toml")
    if goal is not None:
        assert goal in {kind.name for kind in GOALS}
    for text in context.params.get("fix") or ():
        from glowtrace.cli.plan import read_fixed

        read_fixed([text])
