"""The options that set a bench, made from the fields of `Settings`: knobs, ties and switches."""

from __future__ import annotations

import inspect
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, Self, get_args

import typer

from glowtrace.bench.ranges import Quantity
from glowtrace.bench.settings import Settings
from glowtrace.cli.groups import option
from glowtrace.errors import BenchError, Problem, RatingError
from glowtrace.units import DIMENSIONS

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench

Setting = Literal["accelerating_voltage", "plate_voltage", "coil_current"]


class KnobName(StrEnum):
    """A knob, as its option is called."""

    ACCELERATING = "accelerating"
    PLATE = "plate"
    COIL = "coil"

    @property
    def setting(self) -> Setting:
        """The field of `Settings` that it turns."""
        return next(name for name in get_args(Setting) if _short(name) == self.value)


def knob_named(text: str) -> KnobName:
    """Give the knob by any of its names: "coil", "coil_current", "coil current", "--coil"."""
    name = setting_named(text)
    for knob in KnobName:
        if knob.setting == name:
            return knob
    close = get_close_matches(text, list(KnobName), n=1)
    advice = f'did you mean "{close[0]}"?' if close else f"choose {', '.join(KnobName)}"
    raise typer.BadParameter(f'there is no knob "{text}"; {advice}')


def setting_named(text: str) -> str:
    """Give the field of `Settings` that a name stands for, long or short, as an option or not."""
    name = "_".join(text.strip().lower().lstrip("-").replace("-", " ").replace("_", " ").split())
    return next((each for each in get_args(Setting) if name == _short(each)), name)


Knob = Annotated[
    KnobName,
    typer.Option(parser=knob_named, metavar="KNOB", help="accelerating, plate or coil."),
]


def _short(field: str) -> str:
    return field.rpartition("_")[0]


_CAUSES: Final = ("thermal_spread", "ripple", "divergence")
_SWITCHES: Final = {
    "plate_reversed": ("--reverse-plates/--keep-plates", "Swap the leads of the plates."),
    "coil_reversed": ("--reverse-coils/--keep-coils", "Swap the leads of the coils."),
    "heater_on": ("--heater-on/--heater-off", "With the heater off the cathode stays cold."),
}


class Cause(StrEnum):
    """What makes the trace wide, as it is called on the command line."""

    THERMAL_SPREAD = "thermal-spread"
    RIPPLE = "ripple"
    DIVERGENCE = "divergence"


def _setting_options() -> Iterator[inspect.Parameter]:
    """Give one option a field; the causes of the trace's width share `--without`."""
    yield option("settings", Annotated[str | None, typer.Option(
        "--settings", metavar="WHICH", autocompletion=_saved_names,
        help="Start from a settings file, or from saved settings by their name.",
    )])  # fmt: skip
    for name, info in Settings.model_fields.items():
        if name in _CAUSES:
            continue
        long = f"--{name.replace('_', '-')}"
        if name in _SWITCHES:
            names, words = _SWITCHES[name]
            yield option(name, Annotated[bool | None, typer.Option(names, help=words)])
            continue
        words = " ".join((info.description or "").split())
        unit = next((mark.si_unit for mark in info.metadata if isinstance(mark, Quantity)), None)
        if unit is None:
            metavar = name.rpartition("_")[2].upper()
            yield option(name, Annotated[
                info.annotation | None,  # type: ignore[operator]
                typer.Option(long, metavar=metavar, help=words),
            ])  # fmt: skip
            continue
        metavar = name.rpartition("_")[2].upper()
        words = f'{words} As in "{DIMENSIONS[unit].example}".'
        yield option(name, Annotated[
            str | None, typer.Option(f"--{_short(name)}", long, metavar=metavar, help=words),
        ])  # fmt: skip
    yield option("without", Annotated[list[Cause] | None, typer.Option(
        "--without", metavar="CAUSE",
        help="Leave a cause of the trace's width out: thermal-spread, ripple or divergence; "
        "may be repeated.",
    )])  # fmt: skip


def _saved_names(incomplete: str) -> list[str]:
    from glowtrace.cli.completion import saved_settings_names

    return saved_settings_names(incomplete)


@dataclass(frozen=True)
class SettingsOptions:
    """What is told about the settings.

    Attributes
    ----------
    settings
        A settings file or the name of saved settings; None where none is given.
    told
        The fields of `Settings` that options tell, as they were typed.
    """

    settings: str | None = None
    told: Mapping[str, object] = field(default_factory=dict)

    @classmethod
    def options(cls) -> Iterator[inspect.Parameter]:
        """Give the options, as `glowtrace.cli.groups` wants them."""
        return _setting_options()

    @classmethod
    def of(cls, typed: dict[str, Any]) -> Self:
        """Take what was typed for each option."""
        settings, causes = typed.pop("settings"), typed.pop("without") or ()
        told = {name: value for name, value in typed.items() if value is not None}
        return cls(settings, told | {cause.replace("-", "_"): False for cause in causes})

    @property
    def are_told(self) -> bool:
        """Whether anything is told at all."""
        return self.settings is not None or bool(self.told)

    def choose(self, bench: Bench) -> Settings:
        """Give the settings that the options tell, within the ratings of the bench.

        They change those of a file, or saved ones, where such are given. Else a knob that is not
        told is at zero, the accelerating voltage as it is for the bench's demonstration; where no
        knob is told at all, the bench is set to show its demonstration.

        Raises
        ------
        BenchError
            A value cannot be read.
        RatingError
            A rating of the bench is passed; the text names it.
        """
        from glowtrace.bench.ratings import check_settings

        settings = self.choose_freely(bench)
        problems = check_settings(bench, settings)
        if problems:
            raise RatingError(f'settings on the bench "{bench.name}"', self._as_typed(problems))
        return settings

    def choose_freely(self, bench: Bench) -> Settings:
        """Give the same settings, whether the bench stands them or not."""
        return self._settings(bench, dict(self.told))

    def choose_beside(self, bench: Bench, turned: Collection[KnobName]) -> Settings:
        """Give the settings beside knobs that are turned through a range, which are not told.

        Those knobs come out at a place of no meaning.

        Raises
        ------
        BenchError
            As for `choose`; also where a turned knob is told.
        """
        from glowtrace.bench.ratings import check_settings, knob_ranges

        ranges = knob_ranges(bench)
        told, axes = dict(self.told), {knob.setting for knob in turned}
        twice = [
            Problem(f"--{knob}", str(told[knob.setting]), "leave it out: this knob is turned")
            for knob in turned
            if knob.setting in told
        ]
        if twice:
            raise BenchError("settings beside what is turned", twice)
        if told.keys() & _KNOBS and self.settings is None and KnobName.ACCELERATING in turned:
            told["accelerating_voltage"] = f"{ranges['accelerating_voltage'].high} V"
        settings = self._settings(bench, told)
        turned_up: dict[str, float] = {name: ranges[name].high for name in axes}
        problems = [
            problem
            for problem in check_settings(bench, settings.model_copy(update=turned_up))
            if problem.field not in axes
        ]
        if problems:
            raise RatingError(f'settings on the bench "{bench.name}"', self._as_typed(problems))
        return settings

    def _settings(self, bench: Bench, told: dict[str, object]) -> Settings:
        from glowtrace.bench.checking import change, check
        from glowtrace.cli.options import find_settings
        from glowtrace.demos.opening import opening_settings

        try:
            if self.settings is not None:
                subject = f'settings "{self.settings}" with the options'
                return change(find_settings(self.settings), told, subject, is_written=True)
            opening = opening_settings(bench)
            if told.keys() & _KNOBS:
                usual = {"accelerating_voltage": f"{opening.accelerating_voltage} V"}
                return check(Settings, usual | told, "settings", is_written=True)
            return change(opening, told, "settings", is_written=True)
        except BenchError as error:
            raise BenchError(error.subject, self._as_typed(error.problems)) from None

    def _as_typed(self, problems: Collection[Problem]) -> list[Problem]:
        """Give problems with the options that were typed in place of the fields they set."""
        return [
            Problem(_option(each.field), each.given, each.allowed)
            if each.field in self.told
            else each
            for each in problems
        ]


_KNOBS = set(get_args(Setting))


def _option(field: str) -> str:
    if field in _SWITCHES:
        return _SWITCHES[field][0].partition("/")[0]
    if field in _CAUSES:
        return "--without"
    return f"--{_short(field) if field in _KNOBS else field.replace('_', '-')}"
