"""What the shell offers while a command is typed: names of benches, settings and goals."""

from __future__ import annotations

import os

from glowtrace.errors import GlowtraceError


def bench_names(incomplete: str) -> list[str]:
    """Give the ready-made and saved benches that begin so."""
    from glowtrace.bench.ready_made import ready_made_names
    from glowtrace.cli.options import saved_benches

    try:
        saved = [one.name for one in saved_benches()]
    except GlowtraceError:  # completion is no place to tell what is wrong
        saved = []
    return _offered([*ready_made_names(), *saved], incomplete)


def saved_settings_names(incomplete: str) -> list[str]:
    """Give the saved settings that begin so."""
    from glowtrace.cli.options import saved_settings

    try:
        return _offered([one.name for one in saved_settings()], incomplete)
    except GlowtraceError:
        return []


def goal_names(incomplete: str) -> list[str]:
    """Give the goals that begin so."""
    from glowtrace.demos.goals import GOALS

    return _offered([kind.name for kind in GOALS], incomplete)


def _offered(names: list[str], incomplete: str) -> list[str]:
    """Give the names that begin so; bash takes them as they are, so blanks are marked."""
    found = [name for name in names if name.startswith(incomplete)]
    if os.environ.get("_GLOWTRACE_COMPLETE") == "complete_bash":
        return [name.replace(" ", "\\ ") for name in found]
    return found
