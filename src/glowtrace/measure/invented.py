"""Made-up readings to try: what a bench would show, with the errors of its instruments."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from glowtrace.bench.prepared import PreparedBench
from glowtrace.bench.ratings import knob_ranges
from glowtrace.constants import SPECIFIC_CHARGE
from glowtrace.errors import GlowtraceError
from glowtrace.measure.methods import READ_OFF, Method, columns_of
from glowtrace.measure.observing import Knobs, observe
from glowtrace.measure.tables.instrument import Instrument
from glowtrace.measure.tables.readings import Table, Tie, table
from glowtrace.measure.tracer import Tracer
from glowtrace.measure.tube import Tube, nominal_tube, real_coil_constant, tube_from

NOTE = "made up for trying; not measured"
_LIFTING = "plate volts for each metre of height"
_STEP = 0.01
"""By which part a plate voltage is changed for it."""
_POINTS = 9
_ROWS = 7


def invented_readings(
    prepared: PreparedBench,
    method: Method,
    instruments: Mapping[str, Instrument],
    tie: Tie = "symmetric",
    *,
    seed: int | Sequence[int] = 1,
    aside: Mapping[str, float] = MappingProxyType({}),
) -> Table:
    """Give readings that a bench could show, marked as invented.

    Every meter gets one gain and one zero within its limits, every reading its own error of judging
    and the rounding to the meter's step. Constants of the tube that its drawing does not tell
    (contact potentials, how its grid lies) are ``aside`` by name.

    Raises
    ------
    GlowtraceError
        The bench shows nothing of the kind within its ratings.
    """
    generator = np.random.default_rng(seed)
    tube = nominal_tube(prepared.bench, "bench", earth=prepared.earth.tolist(), tie=tie)
    tube = tube_from(tube, list(aside), np.array(list(aside.values())))
    rows = [row for row in _true_rows(prepared, method, tube) if row is not None]
    if len(rows) < 2:
        raise GlowtraceError(
            "Within its ratings this bench shows nothing that could be read by this method."
        )
    slips = {
        name: generator.uniform(-1.0, 1.0, 2) * [each.gain_limit, each.zero_limit]
        for name, each in instruments.items()
    }
    shown: list[dict[str, float]] = []
    for row in rows:
        cells = {}
        for column in columns_of(method):
            if column.name not in row:
                continue
            name = column.meter or column.name
            value, meter = row[column.name], instruments.get(name, Instrument())
            gain, zero = slips.get(name, (0.0, 0.0))
            if column.name == "x":  # a place on the grid is chosen, the height there is read
                cells["x"] = value
                continue
            if column.name == READ_OFF[method] == "plate_voltage":
                value += row[_LIFTING] * _misjudged(
                    instruments.get("ruler", Instrument()), generator
                )
            read = value * (1 + gain) + zero + meter.judgement * generator.normal()
            step = meter.resolution
            cells[column.name] = float(round(read / step) * step) if step else float(read)
        shown.append({name: float(f"{value:.9g}") for name, value in cells.items()})
    return table(method, shown, instruments, plate_tie=tie, is_invented=True, note=NOTE)


def _true_rows(
    prepared: PreparedBench, method: Method, tube: Tube
) -> list[dict[str, float] | None]:
    bench = prepared.bench
    ranges = knob_ranges(bench)
    low, high, _ = ranges["accelerating_voltage"]

    def voltage(share: float) -> float:
        return _round(low + share * (high - low))

    def current(radius: float, voltage: float) -> float:
        per_ampere = abs(real_coil_constant(bench)) or math.inf
        wanted = math.sqrt(2 * voltage / SPECIFIC_CHARGE) / radius / per_ampere
        return _round(min(wanted, ranges["coil_current"][1]))

    def row(read: str, knobs: Knobs, *names: str) -> dict[str, float] | None:
        return _row(prepared, method, tube, read, knobs, names)

    shares = np.linspace(0.35, 0.75, _ROWS).tolist()
    if method == "circle":
        bottom, top = bench.plane.heights
        size = top - bottom if bench.plane.glows else 0.1
        radii = size * np.linspace(0.2, 0.36, _ROWS)
        return [
            row("diameter", Knobs(voltage(s), coil_current=current(float(r), voltage(s))),
                "accelerating_voltage", "coil_current")
            for s, r in zip(shares, radii, strict=True)
        ]  # fmt: skip
    if method == "axial focus":
        length = bench.plane.x_to if bench.plane.is_spot else 0.2
        return [
            row("coil_current", Knobs(voltage(s), length=length, turns=1),
                "accelerating_voltage", "length", "turns")
            for s in shares
        ]  # fmt: skip
    if method == "turn-back":
        # Only slow electrons turn back in a field that the coils can make.
        tried = (_turning(prepared, tube, voltage(s)) for s in np.linspace(0.0, 0.6, 61).tolist())
        shown = [each for each in tried if each is not None]
        kept = np.unique(np.linspace(0, max(len(shown) - 1, 0), _ROWS).astype(int))
        return [shown[n] for n in kept if shown]
    far, (bottom, top) = bench.plane.x_to, bench.plane.heights
    height = min(top, -bottom)
    if method == "null":
        chosen = voltage(0.6)
        most = min(ranges["plate_voltage"][1], 0.35 * chosen)
        gap = bench.plates.gap if bench.plates else 1.0
        flux = most / gap / math.sqrt(2 * chosen * SPECIFIC_CHARGE)
        amperes = flux / (abs(real_coil_constant(bench)) or math.inf)
        edge = bench.plates.start + bench.plates.length if bench.plates else far
        return [
            row("plate_voltage", Knobs(chosen, coil_current=_round(s * amperes), x=edge),
                "accelerating_voltage", "coil_current")
            for s in (-1.0, -0.75, -0.5, 0.5, 0.75, 1.0)
        ]  # fmt: skip
    chosen = voltage(0.6)
    places = [tube.grid_cosine * round(x, 3) for x in np.linspace(0.3 * far, far, _POINTS).tolist()]
    found = []
    for sign in (1.0, -1.0):
        for x in places:
            if method == "coils only":
                knobs = Knobs(
                    chosen, coil_current=sign * current(far**2 / (1.3 * height), chosen), x=x
                )
                found.append(row("y", knobs, "x", "accelerating_voltage", "coil_current"))
            else:
                plate = _round(min(0.25 * chosen, ranges["plate_voltage"][1]))
                knobs = Knobs(chosen, plate_voltage=sign * plate, x=x)
                found.append(row("y", knobs, "x", "accelerating_voltage", "plate_voltage"))
    return found


def _turning(prepared: PreparedBench, tube: Tube, voltage: float) -> dict[str, float] | None:
    """Give a turn-back that stays between the plates, with the plates holding the beam back."""
    plates = prepared.bench.plates
    if plates is None:
        return None
    speed = math.sqrt(2 * voltage * SPECIFIC_CHARGE)
    depth, drift = 0.25 * plates.gap, 0.4 * speed
    flux = 2 * (speed - drift) / (SPECIFIC_CHARGE * depth)
    amperes = flux / (abs(real_coil_constant(prepared.bench)) or math.inf)
    ranges = knob_ranges(prepared.bench)
    plate = drift * flux * plates.gap
    if amperes > ranges["coil_current"][1] or plate > ranges["plate_voltage"][1]:
        return None
    knobs = Knobs(voltage, plate_voltage=_round(plate), coil_current=-_round(amperes))
    names = ("accelerating_voltage", "plate_voltage", "coil_current")
    return _row(prepared, "turn-back", tube, "depth", knobs, names)


def _row(
    prepared: PreparedBench,
    method: Method,
    tube: Tube,
    read: str,
    knobs: Knobs,
    names: tuple[str, ...],
) -> dict[str, float] | None:
    """Give the knobs of one reading with what is read at them; None where the beam ends before."""
    tracer = Tracer(prepared)
    try:
        seen = observe(method, tracer, tube, knobs).value
        more = {}
        if method == "null":
            off = replace(knobs, plate_voltage=(1.0 + _STEP) * seen)
            more[_LIFTING] = _STEP * seen / observe("plates only", tracer, tube, off).value
        if read == "y":  # where the grid has it
            seen += tube.grid_shift + tube.grid_tilt * knobs.x
    except GlowtraceError:
        return None
    cosine = tube.grid_cosine
    row = {name: float(getattr(knobs, name)) for name in names} | {read: seen} | more
    if "x" in row:
        row["x"] = round(row["x"] / cosine, 6)
    return row


def _misjudged(ruler: Instrument, generator: np.random.Generator) -> float:
    """Draw the height in m at which somebody takes a trace for undeflected."""
    rounded = ruler.resolution * generator.uniform(-0.5, 0.5)
    return float(ruler.judgement * generator.normal() + rounded)


def _round(value: float) -> float:
    return float(f"{value:.2g}")
