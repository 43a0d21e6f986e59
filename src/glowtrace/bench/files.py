"""Bench and settings files: TOML with quantity text, one `format` line at the top.

Reading tells every wrong field at once; saving never leaves half a file, and keeps the old one
until the new one is safe on the disk. What is saved reads back as the identical floats.
"""

from __future__ import annotations

import os
import re
import textwrap
import tomllib
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeVar

import tomlkit
from tomlkit.exceptions import TOMLKitError

from glowtrace.bench.arguments import require_kind
from glowtrace.bench.checking import check
from glowtrace.bench.meanings import explained, standing_numbers
from glowtrace.bench.model import Bench
from glowtrace.bench.parts import Part
from glowtrace.bench.ranges import NOTHING, show
from glowtrace.bench.settings import Settings
from glowtrace.disk import write_whole
from glowtrace.errors import BenchError, Problem

_LARGEST_FILE: Final = 1_000_000
"""Bytes; a bench file has a few thousand, so anything larger is the wrong file."""

Kind = TypeVar("Kind", bound=Part)


class Form(NamedTuple):
    """How a kind of file is marked and called."""

    name: str
    mark: str


_FORMS: Final = {
    Bench: Form("bench", "glowtrace-bench 1"),
    Settings: Form("settings", "glowtrace-settings 1"),
}


def load_bench(path: str | os.PathLike[str]) -> Bench:
    """Read a bench file.

    Raises
    ------
    BenchError
        When the file cannot be read, is no TOML (with line and column), is of another format or
        version, or has wrong fields (all of them together).
    """
    return load_marked(Bench, _FORMS[Bench], Path(path))


def save_bench(bench: Bench, path: str | os.PathLike[str], *, is_explained: bool = False) -> None:
    """Write a bench file whole or not at all; an older file stays until the new one is complete.

    ``is_explained``: as for `bench_to_toml`.

    Raises
    ------
    BenchError
        When the disk is full or the place cannot be written; the older file is then untouched.
    """
    _save("bench", bench_to_toml(bench, is_explained=is_explained), Path(path))


def load_settings(path: str | os.PathLike[str]) -> Settings:
    """Read a settings file; errors as for `load_bench`."""
    return load_marked(Settings, _FORMS[Settings], Path(path))


def save_settings(settings: Settings, path: str | os.PathLike[str]) -> None:
    """Write a settings file; as for `save_bench`."""
    _save("settings", settings_to_toml(settings), Path(path))


def bench_from_toml(text: str, subject: str = "bench file") -> Bench:
    """Read a bench from the text of a bench file; errors as for `load_bench`."""
    return _from_toml(Bench, _FORMS[Bench], text, subject)


def settings_from_toml(text: str, subject: str = "settings file") -> Settings:
    """Read settings from the text of a settings file; errors as for `load_bench`."""
    return _from_toml(Settings, _FORMS[Settings], text, subject)


def bench_to_toml(bench: Bench, *, is_explained: bool = False) -> str:
    """Give the text of a bench file, which reads back as an equal bench.

    Parameters
    ----------
    bench
        The bench.
    is_explained
        Say above each number what it is, how to find it, and what may be written.
    """
    require_kind(bench, Bench)
    text = _to_toml(bench)
    return _explained(text, bench) if is_explained else text


def settings_to_toml(settings: Settings) -> str:
    """Give the text of a settings file, which reads back as equal settings."""
    require_kind(settings, Settings)
    return _to_toml(settings)


def _to_toml(part: Bench | Settings) -> str:
    written: dict[str, Any] = {"format": _FORMS[type(part)].mark}
    written |= part.model_dump(mode="json", exclude_none=True)
    if isinstance(part, Bench):
        written["place"]["date"] = part.place.date
        if "\n" in part.notes and part.notes.replace("\n", "").isprintable():
            written["notes"] = tomlkit.string(part.notes, multiline=True)
    return tomlkit.dumps(written)


def _explained(text: str, bench: Bench) -> str:
    """Add to the text of a bench file what each number means."""
    told = {each.path: explained(each) for each in standing_numbers(bench)}
    lines, table, is_quoted = [], "", False
    for line in text.splitlines():
        is_quoted ^= line.count('"""') % 2 == 1  # notes may look like anything
        if is_quoted:
            lines.append(line)
            continue
        if found := re.fullmatch(r"\[([a-z_.]+)\]", line):
            table = found[1]
        name = line.partition(" = ")[0]
        if table and f"{table}.{name}" in told:
            lines += textwrap.wrap(told[f"{table}.{name}"], 92, initial_indent="# ",
                                   subsequent_indent="# ")  # fmt: skip
        lines.append(line)
    return "\n".join(lines) + "\n"


def _from_toml(kind: type[Kind], form: Form, text: str, subject: str) -> Kind:
    data = parse_toml(text, subject)
    mark = data.pop("format", None)
    if mark != form.mark:
        raise BenchError(subject, [_wrong_format(mark, form)])
    return check(kind, data, subject, is_written=True)


def parse_toml(text: str, subject: str) -> dict[str, Any]:
    """Read TOML, or say in a BenchError where it goes wrong."""
    try:
        return tomlkit.parse(text).unwrap()
    except (TOMLKitError, ValueError, RecursionError) as error:
        place, reason = _locate(text, error)
    problem = Problem(place, f"this is no TOML ({reason})", "correct the file at this place")
    raise BenchError(subject, [problem]) from None


def _locate(text: str, error: Exception) -> tuple[str, str]:
    """Give line and column of the first fault in malformed TOML, and what is wrong there.

    The standard library's reader names the place in every error, tomlkit in most.
    """
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError) as second:
        found = re.fullmatch(
            r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", str(second)
        )
        if found and found[2]:
            return f"line {found[2]}, column {found[3]}", found[1]
        if found:
            last = text.count("\n") + 1
            return f"line {last}, column {len(text.splitlines()[-1]) + 1}", found[1]
    line, column = getattr(error, "line", None), getattr(error, "col", None)
    reason = re.sub(r" at line \d+ col \d+$", "", str(error))
    return (f"line {line}, column {column}" if line else "the file"), reason


def _wrong_format(mark: object, form: Form) -> Problem:
    """Say why the mark of a file is not the one wanted."""
    if mark is None:
        return Problem("format", NOTHING, f'start the file with format = "{form.mark}"')
    if isinstance(mark, str):
        for other in _FORMS.values():
            if other is not form and mark.partition(" ")[0] == other.mark.partition(" ")[0]:
                wanted = f"this is a {other.name} file; give a {form.name} file"
                return Problem("format", show(mark), f'{wanted} (format = "{form.mark}")')
        if re.fullmatch(re.escape(form.mark.partition(" ")[0]) + r" \d{1,9}", mark):
            return Problem(
                "format",
                show(mark),
                f'this version of Glowtrace reads "{form.mark}": update Glowtrace',
            )
    return Problem("format", show(mark), f'give format = "{form.mark}"')


def load_marked(kind: type[Kind], form: Form, path: Path) -> Kind:
    """Read a file that begins with the mark of its form; errors as for `load_bench`."""
    name = form.name
    subject = f'{name} file "{path}"'
    return _from_toml(kind, form, file_text(path, name, subject), subject)


def file_text(path: Path, name: str, subject: str) -> str:
    """Give the text of a file that people write, or say in a BenchError why it cannot be read."""
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        raise BenchError(
            subject,
            [
                Problem(
                    "file", "this file does not exist", f"give the path of an existing {name} file"
                )
            ],
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        problem = Problem(
            "file", f"this file cannot be read ({reason})", "give a file that can be read"
        )
        raise BenchError(subject, [problem]) from error
    if len(raw) > _LARGEST_FILE:
        size = f"a {name} file has at most {_LARGEST_FILE} bytes: is it the right one?"
        raise BenchError(subject, [Problem("file", "this file is too large", size)])
    try:
        # Some editors put a byte order mark in front; it says nothing here.
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        problem = Problem(f"line {line}", "this text is not UTF-8", "save the file as UTF-8")
        raise BenchError(subject, [problem]) from None


def _save(name: str, text: str, path: Path) -> None:
    try:
        write_whole(path, text.encode("utf-8"))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        problem = Problem(
            "file",
            f"this place cannot be written to ({reason})",
            "nothing was changed there: make room, or save to a folder that you may write to",
        )
        raise BenchError(f'saving {name} file "{path}"', [problem]) from error
