"""A bench with its fields computed, ready to show a picture for any settings."""

from __future__ import annotations

import math
import pathlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from glowtrace.beam.bundle import TOLERANCE, Bundle, fly_bundle
from glowtrace.beam.obstacles import Obstacles
from glowtrace.beam.screen import Canvas
from glowtrace.beam.source import Source
from glowtrace.bench.arguments import require_count, require_kind, require_model
from glowtrace.bench.electron import (
    AXIS,
    SPACING,
    Launch,
    Through,
    drawing,
    drawing_turn,
    fly_paths,
    fly_ray,
    launched,
)
from glowtrace.bench.ideal import ideal_fields
from glowtrace.bench.known_fields import earth_at
from glowtrace.bench.layout import (
    bench_obstacles,
    canvas_of,
    electrode_voltages,
    field_problem,
)
from glowtrace.bench.model import Bench, Supply
from glowtrace.bench.number_effects import NumberEffects, number_effects
from glowtrace.bench.path import Path, turns_about_axis
from glowtrace.bench.picture import Model, Picture, Ray, mean_trace
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings
from glowtrace.fields.interpolation import Field, fields_at, uniform_field
from glowtrace.fields.map_files import load_or_build
from glowtrace.fields.maps import FieldMap
from glowtrace.shown import Shown
from glowtrace.watching import Progress

Array = NDArray[np.float64]

_STATION_SPACING = 0.0025
"""Distance in m between the points kept of a path."""
_LONGEST = 1.0
"""Length of path in m after which an electron in a vacuum tube counts as still flying."""


def prepare(
    bench: Bench, *, progress: Progress | None = None, cache_dir: pathlib.Path | None = None
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
    require_kind(bench, Bench)
    fields = load_or_build(field_problem(bench), cache_dir, progress)
    place = bench.place
    earth = np.zeros(3) if place.ignore_earth else earth_at(place)
    return PreparedBench(bench, fields, earth, cache_dir)


@dataclass(frozen=True, eq=False)
class PreparedBench(Shown):
    """The forward model: settings in, picture out. Made by `prepare`."""

    bench: Bench
    fields: FieldMap
    earth: Array
    """Earth's flux density (3,) in T in the axes of the bench; zero where it is ignored."""
    cache_dir: pathlib.Path | None = None
    """Folder for what is computed of its fields; the user's cache folder when left out."""
    askew: Launch = AXIS
    """How the middle of its beam leaves the aperture; every launch is meant from there."""

    @cached_property
    def effects(self) -> NumberEffects:
        """What its uncertain numbers do to fields and beam; takes seconds the first time."""
        return number_effects(self.bench, self.cache_dir)

    def __repr__(self) -> str:
        return f"PreparedBench of {self.bench!r}"

    @property
    def plane(self) -> ScreenPlane:
        """The picture plane of the screen."""
        return self.bench.plane

    @cached_property
    def canvas(self) -> Canvas:
        """The same in the form that the compiled kernels read."""
        return canvas_of(self.plane)

    @cached_property
    def _walls(self) -> dict[Through, tuple[Obstacles, tuple[str, ...]]]:
        bench, grazed = self.bench, self.plane.is_line
        return {
            "nothing": bench_obstacles(bench),
            "sheet": bench_obstacles(bench, has_screen=not grazed),
            "screen": bench_obstacles(bench, has_screen=False),
            "walls": bench_obstacles(bench, has_screen=False, has_walls=False),
        }

    @property
    def walls(self) -> Obstacles:
        """What electrons can end on."""
        return self._walls["nothing"][0]

    def walls_but(self, through: Through) -> Obstacles:
        """What electrons can end on that fly through some of it."""
        return self._walls[through][0]

    @property
    def longest(self) -> float:
        """Length of path in m after which an electron is given up.

        In gas that is once round the largest circle in the glass: on its way an electron has lost
        the energy that it would need to show a second one.
        """
        if self.plane.glows:
            return 2.0 * math.pi * self.bench.envelope.radius
        return _LONGEST

    @property
    def end_names(self) -> tuple[str, ...]:
        """Names of what an electron can end on."""
        return self._walls["nothing"][1]

    def field(self, settings: Settings, model: Model = "bench") -> Field:
        """Give the fields that electrons fly through at these settings."""
        require_model(model)
        require_kind(settings, Settings)
        if model == "ideal":
            ideal = ideal_fields(self.bench, settings)
            return uniform_field(
                np.array(ideal.electric_field),
                (ideal.x_from, ideal.x_to),
                np.array(ideal.flux_density),
                self.fields.grids[0],
            )
        voltages = electrode_voltages(settings)[: len(self.fields.names)]
        return self.fields.field(voltages, settings.signed_coil_current, self.earth)

    def fields_on(
        self, points: Array, settings: Settings, model: Model = "bench"
    ) -> tuple[Array, Array, Array]:
        """Give E (n, 3) in V/m, B (n, 3) in T and the potential (n,) in V at points (n, 3) in m.

        NaN outside the map.
        """
        grid = self.fields.grids[0]
        is_known = ((points >= grid.lowest) & (points <= grid.highest)).all(axis=1)
        electric, flux, potential = fields_at(self.field(settings, model), points)
        for values in (electric, flux, potential):
            values[~is_known] = math.nan
        return electric, flux, potential

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
            height=self.askew.y,
            aside=self.askew.z,
            rise=self.askew.up,
            turn=self.askew.aside,
        )

    def picture(
        self,
        settings: Settings,
        *,
        electrons: int = 200,
        seed: int = 0,
        model: Model = "bench",
        paths: int = 0,
        threads: int | None = None,
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
        threads
            On how many cores; all when left out. The picture is the same.
        """
        require_model(model)
        require_kind(settings, Settings)
        require_count("electrons", electrons, 1)
        require_count("seed", seed, 0)
        require_count("paths", paths, 0)
        plane = self.plane
        if not settings.heater_on or settings.accelerating_voltage == 0.0:
            return self._dark(settings, electrons, seed, model)
        rows = 1 if plane.is_spot else min(200, max(20, electrons // 25))
        if plane.glows:
            rows = math.ceil(self.longest / _STATION_SPACING)
        bundle = fly_bundle(
            self.field(settings, model),
            self.walls,
            self.source(settings),
            self.canvas,
            electrons=electrons,
            seed=seed,
            image_shape=plane.image_shape,
            rows=rows,
            end_codes=len(self.end_names),
            keep_landings=electrons if electrons <= 20_000 else 0,
            keep_paths=paths,
            station_spacing=_STATION_SPACING,
            longest=self.longest,
            threads=threads,
        )
        return self.picture_of(bundle, settings, seed, model, self.plane.pixel)

    def central_ray(self, settings: Settings, *, model: Model = "bench", samples: int = 200) -> Ray:
        """Follow the beam's axis, with the fields along it, at ``samples`` points or fewer."""
        return self.ray(settings, model=model, samples=samples)

    def ray(
        self,
        settings: Settings,
        launch: Launch = AXIS,
        *,
        model: Model = "bench",
        through: Through = "nothing",
        samples: int = 200,
    ) -> Ray:
        """Follow one electron to its end, with the fields along its path.

        Parameters
        ----------
        settings
            Knobs and switches. The electron has the accelerating voltage, and the potential at its
            starting point, without spread and ripple.
        launch
            How it leaves.
        model, through
            The fields, and what does not stop it.
        samples
            Points on the path, at equal distances, 3 or more.

        Returns
        -------
        Ray
            Without any points where the electron does not leave the gun: the heater is off, or
            there is no accelerating voltage.
        """
        require_count("samples", samples, 3)
        field = self.field(settings, model)
        states = launched(field, settings.voltage_on_beam, [self.askew.then(launch)])
        return fly_ray(
            field, *self._walls[through], states, model=model, longest=self.longest, samples=samples
        )

    def fly(
        self,
        settings: Settings,
        launch: Launch = AXIS,
        *,
        model: Model = "bench",
        through: Through = "sheet",
        longest: float | None = None,
        spacing: float = SPACING,
        tolerance: float = TOLERANCE,
    ) -> Path:
        """Let one electron fly to its end.

        Parameters
        ----------
        settings, launch, model, through
            As for `ray`.
        longest
            Length of path in m after which it is given up; that of the bench when left out.
        spacing
            Distance in m between the points of its path.
        tolerance
            Error of position in m allowed per step.
        """
        field = self.field(settings, model)
        states = launched(field, settings.voltage_on_beam, [self.askew.then(launch)])
        return self.fly_in(
            field, states, through=through, longest=longest, spacing=spacing, tolerance=tolerance
        )[0]

    def fly_in(
        self,
        field: Field,
        states: Array | None,
        *,
        through: Through = "sheet",
        longest: float | None = None,
        spacing: float = SPACING,
        tolerance: float = TOLERANCE,
    ) -> tuple[Path, ...]:
        """Let electrons fly in a field of your own; see `glowtrace.bench.electron.fly_paths`."""
        return fly_paths(
            field, *self._walls[through], states,
            longest=longest or self.longest, spacing=spacing, tolerance=tolerance,
        )  # fmt: skip

    def line_height(
        self, settings: Settings, x: float, *, model: Model = "bench", through: Through = "sheet"
    ) -> float:
        """Height y in m of the line where it first comes to x in m; NaN where it never does.

        This is the height of the line everywhere; see `glowtrace.bench.electron`.
        """
        return self.fly(settings, drawing(self.bench, x), model=model, through=through).height_at(x)

    def line_turn(
        self, settings: Settings, *, model: Model = "bench", through: Through = "sheet"
    ) -> float:
        """Height y in m at which the line first turns back, and the diameter of a circle.

        NaN where it never does; signed as `Path.far_height`.
        """

        def fly(launch: Launch) -> Path:
            return self.fly(settings, launch, model=model, through=through)

        return drawing_turn(self.bench, fly).far_height()

    def turns(
        self, ray: Path, axis: Path, settings: Settings, length: float, *, model: Model = "bench"
    ) -> float:
        """Turns that a ray has made about another; see `glowtrace.bench.path.turns_about_axis`."""
        flux = fields_at(self.field(settings, model), ray.position)[1]
        return turns_about_axis(ray, axis, flux[:, 0], length)

    def picture_of(
        self, bundle: Bundle, settings: Settings, seed: int, model: Model, pixel: float
    ) -> Picture:
        """Give the picture that a bundle makes which was flown through fields of one's own.

        Parameters
        ----------
        bundle, seed, model
            What flew, from where in the sequence of electrons, and through which fields.
        settings
            Those that act on the electrons.
        pixel
            Of the bundle's image, m.
        """
        u0, v0, _, _ = self.plane.rectangle
        count_v, count_u = bundle.image.shape
        return Picture(
            settings,
            model,
            self.plane,
            bundle.electrons,
            seed,
            {name: int(n) for name, n in zip(self.end_names, bundle.ends, strict=True) if n},
            bundle.landings,
            bundle.paths[:, :, :3],
            bundle.image,
            (u0, u0 + count_u * pixel, v0, v0 + count_v * pixel),
            mean_trace(bundle.sums, self.plane),
        )

    def _dark(self, settings: Settings, electrons: int, seed: int, model: Model) -> Picture:
        nothing = Bundle(
            electrons=electrons,
            ends=np.zeros(len(self.end_names), dtype=np.int64),
            image=np.zeros(self.plane.image_shape),
            sums=np.zeros((1, 6)),
            landings=np.zeros((0, 2)),
            paths=np.zeros((0, 0, 7)),
            steps=0,
        )
        return self.picture_of(nothing, settings, seed, model, self.plane.pixel)
