"""The options that set a bench: its knobs, ties and reversing switches."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from glowtrace.errors import BenchError, Problem, RatingError

if TYPE_CHECKING:
    from glowtrace.bench.model import Bench
    from glowtrace.bench.settings import Settings


class Cause(StrEnum):
    """What makes the trace wide, as it is called on the command line."""

    THERMAL_SPREAD = "thermal-spread"
    RIPPLE = "ripple"
    DIVERGENCE = "divergence"


class KnobName(StrEnum):
    """A knob, as its option is called."""

    ACCELERATING = "accelerating"
    PLATE = "plate"
    COIL = "coil"

    @property
    def setting(self) -> Literal["accelerating_voltage", "plate_voltage", "coil_current"]:
        """The field of `Settings` that it turns."""
        if self is KnobName.ACCELERATING:
            return "accelerating_voltage"
        return "plate_voltage" if self is KnobName.PLATE else "coil_current"


@dataclass(frozen=True)
class SettingsOptions:
    """What is told about the settings; None where nothing is."""

    settings: Annotated[
        Path | None,
        typer.Option("--settings", metavar="FILE", help="Start from a settings file."),
    ] = None
    accelerating: Annotated[
        str | None,
        typer.Option(
            "--accelerating", metavar="VOLTAGE", help='Accelerating voltage, as in "3 kV".'
        ),
    ] = None
    plate: Annotated[
        str | None,
        typer.Option("--plate", metavar="VOLTAGE", help='Voltage between the plates: "1.2 kV".'),
    ] = None
    plate_tie: Annotated[
        Literal["symmetric", "lower at anode", "upper at anode"] | None,
        typer.Option(
            "--plate-tie",
            metavar="TIE",
            help='What of the plates has the anode\'s potential: "symmetric" (their middle), '
            '"lower at anode" or "upper at anode".',
        ),
    ] = None
    plate_source: Annotated[
        Literal["own supply", "accelerating supply"] | None,
        typer.Option(
            "--plate-source",
            metavar="SOURCE",
            help='What feeds the plates: "own supply" or "accelerating supply".',
        ),
    ] = None
    reverse_plates: Annotated[
        bool | None,
        typer.Option("--reverse-plates/--keep-plates", help="Swap the leads of the plates."),
    ] = None
    coil: Annotated[
        str | None,
        typer.Option("--coil", metavar="CURRENT", help='Current in the coils, as in "250 mA".'),
    ] = None
    reverse_coils: Annotated[
        bool | None,
        typer.Option("--reverse-coils/--keep-coils", help="Swap the leads of the coils."),
    ] = None
    heater_off: Annotated[
        bool | None, typer.Option("--heater-off/--heater-on", help="Leave the cathode cold.")
    ] = None
    without: Annotated[
        list[Cause] | None,
        typer.Option(
            "--without",
            metavar="CAUSE",
            help="Leave a cause of the trace's width out: thermal-spread, ripple or divergence; "
            "may be repeated.",
        ),
    ] = None

    @property
    def told(self) -> dict[str, object]:
        """The fields of `Settings` that options tell, as they were typed."""
        options = {
            "accelerating_voltage": self.accelerating,
            "plate_voltage": self.plate,
            "plate_tie": self.plate_tie,
            "plate_source": self.plate_source,
            "plate_reversed": self.reverse_plates,
            "coil_current": self.coil,
            "coil_reversed": self.reverse_coils,
            "heater_on": None if self.heater_off is None else not self.heater_off,
            **{cause.replace("-", "_"): False for cause in self.without or ()},
        }
        return {name: value for name, value in options.items() if value is not None}

    @property
    def are_told(self) -> bool:
        """Whether anything is told at all."""
        return self.settings is not None or bool(self.told)

    def choose(self, bench: Bench) -> Settings:
        """Give the settings that the options tell, within the ratings of the bench.

        They change those of a file where one is given. Else a knob that is not told is at zero;
        only where no knob is told at all, the bench is set to show its demonstration.

        Raises
        ------
        BenchError
            A value cannot be read, or the accelerating voltage is missing.
        RatingError
            A rating of the bench is passed; the text names it.
        """
        from glowtrace.bench.ratings import require_within_ratings

        settings = self.choose_freely(bench)
        require_within_ratings(bench, settings)
        return settings

    def choose_freely(self, bench: Bench) -> Settings:
        """Give the same settings, whether the bench stands them or not."""
        return self._settings(bench, self.told)

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
        told, axes = self.told, {knob.setting for knob in turned}
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
            raise RatingError(f'settings on the bench "{bench.name}"', problems)
        return settings

    def _settings(self, bench: Bench, told: dict[str, object]) -> Settings:
        from glowtrace.bench.checking import change, check
        from glowtrace.bench.files import load_settings
        from glowtrace.bench.settings import Settings
        from glowtrace.demos.opening import opening_settings

        if self.settings is not None:
            subject = f'settings file "{self.settings}" with the options'
            return change(load_settings(self.settings), told, subject, is_written=True)
        if told.keys() & _KNOBS:
            return check(Settings, told, "settings", is_written=True)
        return change(opening_settings(bench), told, "settings", is_written=True)


_KNOBS = {knob.setting for knob in KnobName}
