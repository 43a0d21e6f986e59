"""The command that asks: each number of a bench in turn, with its meaning and how to find it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.options import Overwrite
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph
from glowtrace.errors import BenchError

if TYPE_CHECKING:
    from glowtrace.bench.meanings import Number
    from glowtrace.bench.model import Bench

_HOW = (
    'Give each number with its unit and how well you know it, as in "52(1) mm", "52 mm ± 1 mm" or '
    '"50 mm to 54 mm". Enter alone keeps what stands there; ? says how to find it.'
)


def ask(
    file: Annotated[Path, typer.Argument(show_default=False, help="The bench file to make.")],
    every: Annotated[
        bool, typer.Option("--every", help="Ask for every number, not only those that matter most.")
    ] = False,
    overwrite: Overwrite = False,
) -> None:
    """Ask for the numbers of your tube, and make its file.

    It begins from a kind of tube with usual numbers. A number that cannot be is told at once; what
    does not agree with other numbers is asked for again at the end.
    """
    from glowtrace.bench.beginnings import beginnings, own_copy
    from glowtrace.bench.files import save_bench

    with Outputs(overwrite=overwrite) as outputs:
        path = outputs.require("FILE", file, (".toml",))
        begun = beginnings()
        for place, kind in enumerate(begun, 1):
            typer.echo(f"{place}  {kind}")
        which = 0
        while not 1 <= which <= len(begun):
            which = typer.prompt("What does the tube show? Its number", type=int)
        bench = own_copy(list(begun.values())[which - 1], file.stem.replace("-", " "))
        print_paragraph(_HOW)
        bench = _asked(bench, is_whole=every)
        save_bench(bench, path, is_explained=True)
        with outputs.telling():
            typer.echo(f"{file}: {bench.name}. Next: glowtrace bench doubts {file}")


def _asked(bench: Bench, *, is_whole: bool) -> Bench:
    """Ask for the numbers until all of them agree."""
    from glowtrace.bench.checking import change

    answers: dict[str, object] = {}
    for number in _numbers(bench, is_whole):
        _ask_for(bench, number, answers)
    while True:
        try:
            return change(bench, answers, "this bench", is_written=True)
        except BenchError as error:
            print_paragraph(str(error))
            wrong = {problem.field.partition("[")[0] for problem in error.problems}
            numbers = [each for each in _numbers(bench, True) if each.path in wrong]
            for number in numbers or _numbers(bench, is_whole):
                _ask_for(bench, number, answers)


def _ask_for(bench: Bench, number: Number, answers: dict[str, object]) -> None:
    """Ask for one number, all coordinates of a point, until it can be on its own."""
    from glowtrace.bench.checking import change
    from glowtrace.bench.meanings import explained

    now = answers.get(number.path, _written(bench, number.path))
    values = list(now) if isinstance(now, list | tuple) else [now]
    axes = ("",) if len(values) == 1 else (", x", ", y", ", z")
    for place, axis in enumerate(axes):
        while True:
            typed = str(typer.prompt(f"{number.meaning.name}{axis}", default=str(values[place])))
            if typed.strip() == "?":
                print_paragraph(explained(number))
                continue
            tried = [*values[:place], _value(typed, values[place]), *values[place + 1 :]]
            answer: Any = tried if len(values) > 1 else tried[0]
            try:
                change(bench, {**answers, number.path: answer}, is_written=True)
            except BenchError as error:
                own = [each for each in error.problems if each.field.startswith(number.path)]
                if own and _is_alone(bench, number.path, answer):
                    print_paragraph(str(own[0]))
                    continue
            values = tried
            answers[number.path] = answer
            break


def _is_alone(bench: Bench, path: str, answer: object) -> bool:
    """Say whether an answer cannot be whatever the other numbers are: a part of its own says so."""
    from glowtrace.bench.checking import check
    from glowtrace.bench.doubts import take_doubts
    from glowtrace.bench.model import Bench as Whole

    part, _, name = path.rpartition(".")
    data = {**attrgetter(part)(bench).model_dump(mode="json"), name: answer}
    tree: Mapping[str, Any] = data
    for parent in reversed(part.split(".")):
        tree = {parent: tree}
    plain: Any = take_doubts(Whole, tree)
    for parent in part.split("."):
        plain = plain[parent]
    try:
        check(type(attrgetter(part)(bench)), plain, part, is_written=True)
    except BenchError:
        return True
    return False


def _numbers(bench: Bench, is_whole: bool) -> Iterator[Number]:
    from glowtrace.bench.meanings import standing_numbers

    for number in standing_numbers(bench):
        has_value = attrgetter(number.path)(bench) is not None
        if has_value and (number.meaning.is_first or is_whole):
            yield number


def _written(bench: Bench, path: str) -> object:
    node: Any = bench.model_dump(mode="json")
    for name in path.split("."):
        node = node[name]
    return node


def _value(typed: str, before: object) -> object:
    """Read an answer as its field wants it: a switch, a whole number, or text with a unit."""
    text = typed.strip()
    if isinstance(before, bool):
        return {"true": True, "yes": True, "false": False, "no": False}.get(text.lower(), text)
    if isinstance(before, int | float) and not isinstance(before, bool):
        try:
            return type(before)(text)
        except ValueError:
            return text
    return text
