"""A bench with its fields computed, ready to show a picture for any settings."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import Bundle, fly_bundle
from glowtrace.beam.obstacles import Obstacles
from glowtrace.beam.source import Source
from glowtrace.bench.arguments import require_count, require_model
from glowtrace.bench.flight import follow, leave
from glowtrace.bench.ideal import ideal_fields
from glowtrace.bench.layout import (
    View,
    bench_obstacles,
    bench_view,
    electrode_voltages,
    field_problem,
)
from glowtrace.bench.model import Bench, Supply
from glowtrace.bench.picture import Model, Picture, Ray, mean_trace
from glowtrace.bench.ranges import show
from glowtrace.bench.settings import Settings
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.fields.earth import earth_flux_density
from glowtrace.fields.interpolation import Field, uniform_field
from glowtrace.fields.maps import FieldMap, load_or_build
from glowtrace.watching import Progress

Array = NDArray[np.float64]

_STATION_SPACING = 0.0025
"""Distance in m between the points kept of a path."""
_LONGEST = 1.0
"""Length of path in m after which an electron in a vacuum tube counts as still flying."""


def prepare(
    bench: Bench, *, progress: Progress | None = None, cache_dir: Path | None = None
) -> PreparedBench:
    """Compute the fields of a bench, or load them where they have been computed before.

    Parameters
    ----------
    bench
        What stands on the table.
    progress
        Called with the fraction done (0 to 1) and a few words, while fields are computed.
    cache_dir
        Folder for field maps; the user's cache folder when left out.

    Raises
    ------
    GlowtraceError
        What is given is no bench.
    """
    if not isinstance(bench, Bench):
        allowed = (
            'give a bench, such as ready_made("deflection tube") or load_bench("my-tube.toml")'
        )
        raise GlowtraceError(Problem("bench", show(bench), allowed))
    fields = load_or_build(field_problem(bench), cache_dir, progress)
    place = bench.place
    earth = (
        np.zeros(3)
        if place.ignore_earth
        else earth_flux_density(
            place.latitude, place.longitude, place.altitude, place.date, place.heading
        )
    )
    return PreparedBench(bench, fields, earth)


@dataclass(frozen=True, eq=False)
class PreparedBench:
    """The forward model: settings in, picture out. Made by `prepare`."""

    bench: Bench
    fields: FieldMap
    earth: Array
    """Earth's flux density (3,) in T in the axes of the bench; zero where it is ignored."""

    @cached_property
    def view(self) -> View:
        """The picture plane of the screen."""
        return bench_view(self.bench)

    @cached_property
    def _named_walls(self) -> tuple[Obstacles, tuple[str, ...]]:
        return bench_obstacles(self.bench)

    @property
    def walls(self) -> Obstacles:
        """What electrons can end on."""
        return self._named_walls[0]

    @property
    def longest(self) -> float:
        """Length of path in m after which an electron is given up.

        In gas that is once round the largest circle in the glass: on its way an electron has lost
        the energy that it would need to show a second one.
        """
        if self.view.kind == "gas glow":
            return 2.0 * math.pi * self.bench.envelope.radius
        return _LONGEST

    @property
    def end_names(self) -> tuple[str, ...]:
        """Names of what an electron can end on."""
        return self._named_walls[1]

    def field(self, settings: Settings, model: Model = "bench") -> Field:
        """Give the fields that electrons fly through at these settings."""
        require_model(model)
        if model == "ideal":
            ideal = ideal_fields(self.bench, settings)
            return uniform_field(
                np.array(ideal.electric_field),
                (ideal.x_from, ideal.x_to),
                np.array(ideal.flux_density),
                self.fields.grid,
            )
        voltages = electrode_voltages(settings)[: len(self.fields.names)]
        return self.fields.field(voltages, settings.signed_coil_current, self.earth)

    def source(self, settings: Settings) -> Source:
        """Give the beam that leaves the gun at these settings."""
        gun, supplies = self.bench.gun, self.bench.supplies
        spread = settings.divergence

        def ripple(supply: Supply | None) -> float:
            return supply.ripple if supply and settings.ripple else 0.0

        return Source(
            accelerating_voltage=settings.accelerating_voltage,
            half_height=gun.aperture_height / 2,
            half_width=gun.aperture_width / 2,
            is_round=gun.aperture_shape == "round",
            divergence_vertical=gun.divergence_vertical if spread else 0.0,
            divergence_sideways=gun.divergence_sideways if spread else 0.0,
            temperature=gun.cathode_temperature if settings.thermal_spread else 0.0,
            ripple=ripple(supplies.accelerating),
            plate_ripple=ripple(supplies.plates),
            coil_ripple=ripple(supplies.coils),
            plates_share_supply=settings.plate_source == "accelerating supply",
        )

    def picture(
        self,
        settings: Settings,
        *,
        electrons: int = 200,
        seed: int = 0,
        model: Model = "bench",
        paths: int = 0,
    ) -> Picture:
        """Give the picture on the screen.

        Parameters
        ----------
        settings
            Knobs and switches. Ratings are not checked here; see `glowtrace.bench.ratings`.
        electrons
            How many stand for the beam, at least 1.
        seed
            Another seed shifts the even sequence that the electrons are taken from.
        model
            See `Model`.
        paths
            Of how many electrons to keep the path.
        """
        require_model(model)
        require_count("electrons", electrons, 1)
        require_count("seed", seed, 0)
        require_count("paths", paths, 0)
        view = self.view
        if not settings.heater_on or settings.accelerating_voltage == 0.0:
            return self._dark(settings, electrons, seed, model)
        rows = 1 if view.kind == "end face" else min(200, max(20, electrons // 25))
        if view.kind == "gas glow":
            rows = math.ceil(self.longest / _STATION_SPACING)
        bundle = fly_bundle(
            self.field(settings, model),
            self.walls,
            self.source(settings),
            view.plane,
            electrons=electrons,
            seed=seed,
            image_shape=view.image_shape,
            rows=rows,
            end_codes=len(self.end_names),
            keep_landings=electrons if electrons <= 20_000 else 0,
            keep_paths=paths,
            station_spacing=_STATION_SPACING,
            longest=self.longest,
        )
        return self._picture(bundle, settings, seed, model)

    def central_ray(self, settings: Settings, *, model: Model = "bench", samples: int = 200) -> Ray:
        """Follow the beam's axis, with the fields along it, at ``samples`` points or fewer."""
        require_count("samples", samples, 3)
        field = self.field(settings, model)
        return follow(
            field, self.walls, self.end_names, leave(field, settings),
            model=model, longest=self.longest, samples=samples,
        )  # fmt: skip

    def _picture(self, bundle: Bundle, settings: Settings, seed: int, model: Model) -> Picture:
        u0, v0, _, _ = self.view.rectangle
        count_v, count_u = bundle.image.shape
        pixel = self.view.plane.pixel
        return Picture(
            settings,
            model,
            self.view.kind,
            bundle.electrons,
            seed,
            {name: int(n) for name, n in zip(self.end_names, bundle.ends, strict=True) if n},
            bundle.landings,
            bundle.paths[:, :, :3],
            bundle.image,
            (u0, u0 + count_u * pixel, v0, v0 + count_v * pixel),
            mean_trace(bundle.sums, self.view.kind),
        )

    def _dark(self, settings: Settings, electrons: int, seed: int, model: Model) -> Picture:
        nothing = Bundle(
            electrons=electrons,
            ends=np.zeros(len(self.end_names), dtype=np.int64),
            image=np.zeros(self.view.image_shape),
            sums=np.zeros((1, 6)),
            landings=np.zeros((0, 2)),
            paths=np.zeros((0, 0, 7)),
            steps=0,
        )
        return self._picture(nothing, settings, seed, model)
