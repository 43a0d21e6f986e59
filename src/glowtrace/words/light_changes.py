"""What to change so that a trace is seen: what to do, and what to mind."""

from __future__ import annotations

from glowtrace.light.changes import Change
from glowtrace.light.scaling import X_RAYS_FROM
from glowtrace.light.scene import beam_current
from glowtrace.light.ways import Way, most_current
from glowtrace.units import format_quantity
from glowtrace.words.language import say
from glowtrace.words.light import room_nearby
from glowtrace.words.lists import listed


def change_name(change: Change) -> str:
    """Give what is changed as a heading."""
    return say(f"light.way.{change.key}.name")


def change_advice(change: Change) -> str:
    """Say what to do, with the value."""
    if len(change.ways) == 1:
        return _advice(change.ways[0])
    ways = listed([_short(way) for way in change.ways])
    return say("light.way.together.advice", ways=f"{ways[:1].upper()}{ways[1:]}")


def change_note(change: Change) -> str:
    """Say what limits a change, or what to mind."""
    if len(change.ways) == 1:
        return _note(change.ways[0])
    suffices = change.after.word == "surely"
    return say("light.way.together.suffices" if suffices else "light.way.together.may_not")


def _short(way: Way) -> str:
    if way.kind == "room":
        return say("light.way.room.short", lux=_lux(way))
    if way.kind == "distance":
        return say("light.way.distance.short", away=_away(way))
    if way.kind == "voltage":
        return say("light.way.voltage.short", volts=_volts(way))
    if way.kind == "current":
        return say("light.way.current.short", current=_current(way))
    return say(f"light.way.{way.kind}.short")


def _advice(way: Way) -> str:
    if way.kind == "room":
        room = room_nearby(way.then.scene.room.illuminance)
        return say("light.way.room.advice", lux=_lux(way), room=room)
    if way.kind == "distance":
        return say("light.way.distance.advice", away=_away(way))
    if way.kind == "voltage":
        return _voltage_advice(way)
    if way.kind == "current":
        now = format_quantity(beam_current(way.before.bench, way.before.scene), "A", 2)
        return say("light.way.current.advice", current=_current(way), now=now)
    return say(f"light.way.{way.kind}.advice")


def _voltage_advice(way: Way) -> str:
    before, wanted = way.before.settings, way.then.settings
    parts = [say("light.way.voltage.accelerating", value=_volts(way))]
    if wanted.plate_voltage:
        value = format_quantity(wanted.plate_voltage, "V")
        parts.append(say("light.way.voltage.plates", value=value))
    if wanted.coil_current:
        value = format_quantity(wanted.coil_current, "A")
        parts.append(say("light.way.voltage.coils", value=value))
    rises = wanted.accelerating_voltage > before.accelerating_voltage
    return say(
        "light.way.voltage.raise" if rises else "light.way.voltage.lower", knobs=listed(parts)
    )


def _note(way: Way) -> str:
    gas, is_spot = way.before.glow.is_gas, way.before.bench.plane.is_spot
    if way.kind == "voltage":
        if gas:
            return say("light.way.voltage.note_gas")
        return say("light.way.voltage.note_phosphor", most=format_quantity(X_RAYS_FROM, "V", 1))
    if way.kind == "current":
        most = format_quantity(most_current(way.before.bench), "A", 2)
        wears = "gas" if gas else "spot" if is_spot else "line"
        return say(f"light.way.current.note_{wears}", most=most)
    return say(f"light.way.{way.kind}.note")


def _lux(way: Way) -> str:
    return format_quantity(way.then.scene.room.illuminance, "lx", 1)


def _away(way: Way) -> str:
    return format_quantity(way.then.scene.away, "m", 2)


def _volts(way: Way) -> str:
    return format_quantity(way.then.settings.accelerating_voltage, "V")


def _current(way: Way) -> str:
    return format_quantity(beam_current(way.then.bench, way.then.scene), "A", 2)
