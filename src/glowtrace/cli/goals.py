"""The command that lists the goals, and the options that tell one with its targets."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.completion import bench_names, goal_names
from glowtrace.cli.frame import about
from glowtrace.cli.options import AsJson, find_bench
from glowtrace.cli.printing import print_json, print_paragraph
from glowtrace.errors import BenchError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.demos.goals import Goal

GoalName = Annotated[
    str,
    typer.Argument(
        show_default=False,
        autocompletion=goal_names,
        help="What to show, by its name in: glowtrace goals",
    ),
]


EXAMPLES = 'Example: glowtrace goals "deflection tube"'


@dataclass(frozen=True)
class GoalTargets:
    """Targets of goals, as they were typed; None where a target is that which suits the bench."""

    x: Annotated[
        str | None,
        typer.Option("--x", metavar="LENGTH", help="Where along the beam the height is read."),
    ] = None
    height: Annotated[
        str | None,
        typer.Option(
            "--height", metavar="LENGTH", help='Wanted height there, as in "1 cm"; below 0: down.'
        ),
    ] = None
    diameter: Annotated[
        str | None, typer.Option("--diameter", metavar="LENGTH", help="Of the full circle.")
    ] = None
    length: Annotated[
        str | None,
        typer.Option("--length", metavar="LENGTH", help="How far the null is to be straight."),
    ] = None
    plates_alone: Annotated[
        str | None,
        typer.Option(
            "--plates-alone", metavar="LENGTH", help="Deflection by the plates alone at a null."
        ),
    ] = None
    depth: Annotated[
        str | None,
        typer.Option("--depth", metavar="LENGTH", help="How far from the axis a beam turns back."),
    ] = None
    turns: Annotated[
        str | None,
        typer.Option("--turns", metavar="N", help="Periods of a turn-back, turns of a helix."),
    ] = None
    spot: Annotated[
        str | None,
        typer.Option("--spot", metavar="LENGTH", help="Largest diameter that counts as focused."),
    ] = None
    tolerance: Annotated[
        str | None,
        typer.Option("--tolerance", metavar="LENGTH", help="How far off still counts."),
    ] = None

    @property
    def told(self) -> dict[str, str]:
        """The targets that were typed."""
        values = {each.name: getattr(self, each.name) for each in fields(self)}
        return {name: value for name, value in values.items() if value is not None}


def choose_goal(name: str, targets: GoalTargets, bench: Bench) -> Goal | str:
    """Give the goal that was named, with targets that suit the bench where none are told.

    Gives the reason instead where a part of the bench is missing.

    Raises
    ------
    GlowtraceError
        There is no such goal, it has no such target, or a target makes no sense.
    """
    from glowtrace.demos.goals import goal_kind, unsuited

    kind = goal_kind(name)
    told = targets.told
    strange = [
        Problem(
            f"--{target.replace('_', '-')}",
            value,
            f'the goal "{name}" has the targets {", ".join(map(_option, kind.units))}',
        )
        for target, value in told.items()
        if target not in kind.units
    ]
    if strange:
        raise BenchError("targets", strange)
    values = _read_targets(told, kind.units)
    reason = unsuited(kind, bench)
    if reason is not None:
        return reason
    suiting: Goal = kind.for_bench(bench)
    whole = {
        target: int(value) if _is_whole(getattr(suiting, target), value) else value
        for target, value in values.items()
    }
    return replace(suiting, **whole)


def _is_whole(suiting: Any, value: float) -> bool:
    """Whether a target that counts something is told as a whole number."""
    return isinstance(suiting, int) and value == int(value)


def _read_targets(told: dict[str, str], units: Any) -> dict[str, float]:
    from glowtrace.units import QuantityError, parse_quantity

    values, wrong = {}, []
    for target, text in told.items():
        try:
            values[target] = parse_quantity(text, units[target])
        except QuantityError as error:
            wrong.append(Problem(_option(target), error.given, error.allowed))
    if wrong:
        raise BenchError("targets", wrong)
    return values


def _option(target: str) -> str:
    return f"--{target.replace('_', '-')}"


def goals(
    bench: Annotated[
        str | None,
        typer.Argument(
            show_default=False,
            autocompletion=bench_names,
            help="Tell which suit this bench: its name, or a bench file.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List what can be shown, with the targets that each goal has.

    With a bench: the targets that suit it, and why a goal is out of its reach.
    """
    from glowtrace.demos.goals import GOALS

    found = None if bench is None else find_bench(bench)
    records = [_record(kind, found) for kind in GOALS]
    if as_json:
        print_json("goals", about(found) | {"goals": records})
        return
    if found is not None:
        typer.echo(f"Goals on the bench: {found.name}")
    for record in records:
        typer.echo(f"\n{record['name']}")
        for words in _lines(record):
            print_paragraph(words, lead="  ")


def _record(kind: type[Goal], bench: Bench | None) -> dict[str, Any]:
    """Give what there is to tell about a goal; without a bench, what it needs."""
    from glowtrace.bench.screen_plane import KINDS
    from glowtrace.demos.goals import unsuited
    from glowtrace.demos.goals.goal import key_with_unit

    parts = [*kind.needs, *(["coils"] if kind.any_coils else [])]
    record: dict[str, Any] = {
        "name": kind.name,
        "title": kind.title,
        "says": kind.says,
        "needs": parts,
        "screens": [KINDS[each] for each in kind.views],
        "targets": [key_with_unit(target, unit) for target, unit in kind.units.items()],
    }
    if bench is not None:
        reason = unsuited(kind, bench)
        goal = None if reason is not None else kind.for_bench(bench)
        reason = reason if goal is None else goal.misfit(bench)
        record["suits"] = reason is None
        record["reason"] = reason
        record["defaults"] = None if goal is None or reason is not None else goal.as_dict()
    return record


def _lines(record: dict[str, Any]) -> list[str]:
    """Tell people the same: title, why not, or targets."""
    from glowtrace.demos.goals import goal_kind
    from glowtrace.units import format_quantity

    units = goal_kind(record["name"]).units
    lines = [f"{record['title']}."]
    if record.get("reason"):
        return [*lines, f"Not here: {record['reason']}."]
    defaults = record.get("defaults")
    if defaults is None:
        words = [f"{_option(each)} ({'a number' if units[each] == '1' else 'a length'})"
                 for each in units]  # fmt: skip
        needs = " and ".join(record["needs"])
        return [
            *lines,
            f"Needs {needs}; seen on a screen of the kind {' or '.join(record['screens'])}.",
            f"Targets: {', '.join(words)}.",
        ]
    by_target = zip(units.items(), list(defaults.values())[2:], strict=True)
    words = [
        f'{_option(each)} "{format_quantity(value, unit)}"' for (each, unit), value in by_target
    ]
    return [*lines, f"Targets that suit it: {' '.join(words)}"]
