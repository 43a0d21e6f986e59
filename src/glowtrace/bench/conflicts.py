"""What must agree between the parts of a bench, reported all together."""

from __future__ import annotations

from collections.abc import Iterator

from glowtrace.bench.geometry import (
    beam_misses_sheet,
    plates_at_anode,
    plates_in_beam,
    screen_at_parts,
)
from glowtrace.bench.glass import coils_at_glass, parts_outside_glass, winding_too_large
from glowtrace.bench.parts import (
    Coils,
    Cylinder,
    Envelope,
    GasGlow,
    Gun,
    LongCoil,
    Part,
    Plates,
    Screen,
    Sheet,
    Supplies,
)
from glowtrace.errors import Problem
from glowtrace.units import exact_text


class Assembly(Part):
    """The parts of a bench that are there and right in themselves."""

    gun: Gun | None = None
    plates: Plates | None = None
    screen: Screen | None = None
    envelope: Envelope | None = None
    coils: Coils | None = None
    supplies: Supplies | None = None


def find_conflicts(assembly: Assembly) -> tuple[Problem, ...]:
    """Find everything that does not agree within and between the parts of a bench.

    A part that contradicts itself (ends before it begins) is left out of the further checks, which
    would only repeat the complaint.

    Parameters
    ----------
    assembly
        The parts; those that are None are not checked.

    Returns
    -------
    tuple of Problem
        Empty when all agree.
    """
    contradictions = tuple(_contradictions(assembly))
    wrong = {problem.field.partition(".")[0] for problem in contradictions}
    sound = assembly.model_copy(update=dict.fromkeys(wrong))
    return (*contradictions, *_between_parts(sound))


def _between_parts(a: Assembly) -> Iterator[Problem]:
    """Check parts against each other."""
    if a.gun and a.plates:
        yield from plates_in_beam(a.gun, a.plates)
        yield from plates_at_anode(a.plates)
    if a.gun and a.screen:
        yield from beam_misses_sheet(a.gun, a.screen)
        yield from screen_at_parts(a.plates, a.screen)
    if a.envelope:
        yield from parts_outside_glass(a.envelope, a.gun, a.plates, a.screen)
    if a.envelope and a.coils:
        yield from coils_at_glass(a.envelope, a.coils)
    if a.supplies:
        yield from _supplies(a.supplies, a.gun, a.plates)


def _contradictions(a: Assembly) -> Iterator[Problem]:
    """Check each part against itself."""
    if a.gun:
        yield from _gun(a.gun)
    if isinstance(a.screen, Sheet | GasGlow):
        yield from _order("screen.x", a.screen.x_from, a.screen.x_to)
    if isinstance(a.screen, GasGlow):
        yield from _order("screen.y", a.screen.y_from, a.screen.y_to)
    if isinstance(a.envelope, Cylinder):
        yield from _order("envelope.x", a.envelope.x_from, a.envelope.x_to)
    if isinstance(a.coils, LongCoil):
        yield from _order("coils.x", a.coils.x_from, a.coils.x_to)
    if a.coils:
        yield from winding_too_large(a.coils)
    for name, supply in a.supplies or ():
        if supply and supply.min_voltage > supply.max_voltage:
            yield Problem(
                f"supplies.{name}.min_voltage",
                exact_text(supply.min_voltage, "V"),
                f"choose at most max_voltage, {exact_text(supply.max_voltage, 'V')}",
            )


def _order(axis: str, start: float, end: float) -> Iterator[Problem]:
    """Check that a part begins before it ends."""
    if start >= end:
        yield Problem(
            f"{axis}_to",
            exact_text(end, "mm"),
            f"choose more than {axis.rpartition('.')[2]}_from, {exact_text(start, 'mm')}",
        )


def _gun(gun: Gun) -> Iterator[Problem]:
    """Check a gun against itself."""
    if gun.aperture_shape == "round" and gun.aperture_width != gun.aperture_height:
        yield Problem(
            "gun.aperture_width",
            exact_text(gun.aperture_width, "mm"),
            "a round aperture has its diameter both ways: "
            f"give aperture_height, {exact_text(gun.aperture_height, 'mm')}",
        )
    if max(gun.aperture_height, gun.aperture_width) >= 2 * gun.anode_radius:
        yield Problem(
            "gun.anode_radius",
            exact_text(gun.anode_radius, "mm"),
            "the aperture must fit in the anode disc: choose more than "
            + exact_text(max(gun.aperture_height, gun.aperture_width) / 2, "mm"),
        )
    if gun.min_accelerating_voltage > gun.max_accelerating_voltage:
        yield Problem(
            "gun.min_accelerating_voltage",
            exact_text(gun.min_accelerating_voltage, "V"),
            "choose at most max_accelerating_voltage, "
            + exact_text(gun.max_accelerating_voltage, "V"),
        )


def _supplies(supplies: Supplies, gun: Gun | None, plates: Plates | None) -> Iterator[Problem]:
    """Check that the supplies can work the tube at all."""
    if gun:
        needs = [
            ("accelerating", "max_voltage", "V", gun.min_accelerating_voltage, "gun needs"),
            ("accelerating", "max_current", "A", gun.beam_current, "gun's beam takes"),
            ("heater", "max_voltage", "V", gun.heater_voltage, "heater needs"),
            ("heater", "max_current", "A", gun.heater_current, "heater takes"),
        ]
        for name, rating, unit, need, who in needs:
            supply = getattr(supplies, name)
            if supply and getattr(supply, rating) < need:
                yield Problem(
                    f"supplies.{name}.{rating}",
                    exact_text(getattr(supply, rating), unit),
                    f"the {who} {exact_text(need, unit)}: choose this or more",
                )
    ratings = [
        ("accelerating", gun and gun.max_accelerating_voltage, "gun is rated"),
        ("heater", gun and gun.heater_voltage, "heater is rated"),
        ("plates", plates and plates.max_voltage, "plates are rated"),
    ]
    for name, rated, who in ratings:
        supply = getattr(supplies, name)
        if supply and rated and supply.min_voltage > rated:
            yield Problem(
                f"supplies.{name}.min_voltage",
                exact_text(supply.min_voltage, "V"),
                f"the {who} {exact_text(rated, 'V')}: choose this or less",
            )
