"""The wiring as a drawing: tube, supplies, meters, coils and earth, each lead with its number.

The drawing is as wide as a page of A4 between its margins and needs no colour. Left the heater,
then the gun's circuit, that of the plates, and right that of the coils; the numbers are those of
the lead table.
"""

from __future__ import annotations

from typing import Final

from glowtrace.bench.model import Bench, Cylinder, Plates
from glowtrace.bench.settings import Settings
from glowtrace.plan import circuit_symbols as draw
from glowtrace.plan.circuit_symbols import Point
from glowtrace.plan.leads import (
    CATHODE,
    EARTH,
    Lead,
    coil_chain,
    find_lead,
    needs_divider,
    plate_feeds,
    plates_are_fed,
)
from glowtrace.plan.wiring import Wiring
from glowtrace.units import format_quantity

# Where things stand, in units of the drawing: a fifth of a millimetre on paper.
_WIDTH, _HEIGHT = 900.0, 632.0
_HEATER = (90.0, 140.0)  # x of the two leads
_CATHODE, _ANODE = 230.0, 385.0  # x of the leads down to the supply
_LOWER, _UPPER = 480.0, 665.0  # x of the plates' leads
_COIL_FEED, _COIL = 765.0, 845.0
_AXIS = 190.0
_PLATES = (_AXIS - 50.0, _AXIS + 50.0)
_OVER_TUBE = 60.0
_HEATER_JOIN, _EARTHED, _PLATE_METER = 280.0, 325.0, 346.0
_TIE, _METER, _RETURN = 385.0, 425.0, 460.0
_TOP, _BOTTOM = 490.0, 550.0  # of the supplies
_LEGEND: Final = (
    "Numbers in rings: leads of the wiring table. Dots: joined. Bows: not joined.",
    "Colours by local practice.",
    "Accelerating voltage off and discharged before any lead is touched, every time.",
)
_EARTH_X: Final = {"anode": 330.0, "cathode": 285.0}


def wiring_diagram(bench: Bench, settings: Settings, wiring: Wiring) -> str:
    """Draw the wiring of a bench.

    Parameters
    ----------
    bench, settings, wiring
        What stands there, what is set, and the wiring that `glowtrace.plan.wiring.wire` gave for
        both.

    Returns
    -------
    str
        SVG, black on white, 900 by 632 units, without links or scripts; equal input gives equal
        text.
    """
    parts = [
        draw.label((20, 28), draw.shortened(bench.name, 860, 17), size=17),
        *_tube(bench),
        *_gun_circuit(bench, settings, wiring),
        *_plate_circuit(bench, settings, wiring.leads),
        *_coil_circuit(bench, settings, wiring.leads),
        *(draw.label((20, 578 + 20 * n), line, size=draw.SMALL) for n, line in enumerate(_LEGEND)),
    ]
    return draw.drawing(_WIDTH, _HEIGHT, f"Wiring of {bench.name}", parts)


def _tube(bench: Bench) -> list[str]:
    """Glass, gun, plates, screen and beam."""
    y = _AXIS
    bulb = (
        f"M270 {y - 35}H400V{y - 80}Q400 {y - 90} 410 {y - 90}H640Q650 {y - 90} 650 {y - 80}"
        f"V{y + 80}Q650 {y + 90} 640 {y + 90}H410Q400 {y + 90} 400 {y + 80}V{y + 35}H270Z"
        if isinstance(bench.envelope, Cylinder)
        else f"M270 {y - 35}H405.2A120 120 0 1 1 405.2 {y + 35}H270Z"
    )
    parts = [
        f'<path d="{bulb}"/>',
        f'<path d="M270 {y - 15}H282L296 {y}L282 {y + 15}H270"/>',
        f'<path d="M312 {y - 18}H318V{y + 18}H312" stroke-width="2.4"/>',
        f'<path d="M{_ANODE} {y - 28}V{y - 6}M{_ANODE} {y + 6}V{y + 28}" stroke-width="2.8"/>',
        f'<path d="M322 {y}H610" stroke-dasharray="7 5"/>',
        f'<path d="M610 {y - 5}L622 {y}L610 {y + 5}"/>',
        draw.label((284, y - 42), "heater", anchor="middle", size=draw.SMALL),
        draw.label((324, y + 52), CATHODE, size=draw.SMALL),
        draw.label((374, y - 42), "anode", anchor="middle", size=draw.SMALL),
        *_screen(bench),
    ]
    if bench.plates:
        parts += [f'<path d="M430 {plate}H580" stroke-width="2.8"/>' for plate in _PLATES]
    return parts


def _screen(bench: Bench) -> list[str]:
    if bench.plane.glows:
        return [draw.label((560, _AXIS - 14), "gas glows", anchor="middle", size=draw.SMALL)]
    if bench.plane.is_spot:
        edge = 642.0 if isinstance(bench.envelope, Cylinder) else 630.0
        face = f'<path d="M{edge} {_AXIS - 40}V{_AXIS + 40}" stroke-width="4"/>'
        return [face, draw.label((edge - 8, _AXIS - 28), "screen", anchor="end", size=draw.SMALL)]
    sheet = f'<rect x="432" y="{_AXIS - 34}" width="150" height="68" stroke-dasharray="2 4"/>'
    return [sheet, draw.label((588, _AXIS - 22), "screen", size=draw.SMALL)]


def _gun_circuit(bench: Bench, settings: Settings, wiring: Wiring) -> list[str]:
    """Heater, cathode, anode, the accelerating supply, its voltmeter and the earth."""
    leads, y = wiring.leads, _AXIS
    one, two = _HEATER
    earthed = {"anode": _ANODE, "cathode": _CATHODE}[wiring.earthed]
    middle = (_CATHODE + _ANODE) / 2
    return [
        draw.wire([(270, y - 15), (one, y - 15), (one, _TOP)]),
        draw.wire([(270, y + 15), (two, y + 15), (two, _TOP)]),
        draw.wire([(318, y + 18), (318, _HEATER_JOIN), (two, _HEATER_JOIN)]),
        draw.joint((two, _HEATER_JOIN)),
        draw.wire([(_CATHODE, _HEATER_JOIN), (_CATHODE, _TOP)]),
        draw.joint((_CATHODE, _HEATER_JOIN)),
        draw.wire([(_ANODE, y + 28), (_ANODE, _TOP)]),
        draw.wire([(earthed, _EARTHED), (_EARTH_X[wiring.earthed], _EARTHED)]),
        draw.joint((earthed, _EARTHED)),
        draw.earth((_EARTH_X[wiring.earthed], _EARTHED)),
        draw.wire([(_CATHODE, _METER), (_ANODE, _METER)]),
        draw.joint((_CATHODE, _METER)),
        draw.joint((_ANODE, _METER)),
        draw.meter((middle, _METER), "V"),
        *_supply(55, 175, "heater supply", format_quantity(bench.gun.heater_voltage, "V"),
                 ((one, "1"), (two, "2"))),
        *_supply(205, 410, "accelerating supply",
                 format_quantity(settings.accelerating_voltage, "V"),
                 ((_CATHODE, "−"), (_ANODE, "+"))),
        _ring(leads, (one, 405), "heater supply 1"),
        _ring(leads, (two, 405), "heater supply 2"),
        _ring(leads, ((two + _CATHODE) / 2, _HEATER_JOIN), "heater 2", CATHODE),
        _ring(leads, (_CATHODE, _TIE), "accelerating supply −", CATHODE),
        _ring(leads, (_ANODE, (_TIE + _METER) / 2), "accelerating supply +", "anode"),
        _ring(leads, (middle - 42, _METER), "voltmeter −"),
        _ring(leads, (middle + 42, _METER), "voltmeter +"),
        _ring(leads, ((earthed + _EARTH_X[wiring.earthed]) / 2, _EARTHED), EARTH),
    ]  # fmt: skip


def _plate_circuit(bench: Bench, settings: Settings, leads: tuple[Lead, ...]) -> list[str]:
    plates = bench.plates
    if plates is None:
        return []
    common = [
        draw.label((515, _OVER_TUBE - 7), draw.shortened(plates.terminal_upper, 220)),
        draw.label((_LOWER + 8, 325), draw.shortened(plates.terminal_lower, 170)),
    ]
    if not plates_are_fed(bench, settings):
        ends = {_LOWER: _TIE, _UPPER: _TIE}
        tie = [
            draw.wire([(_UPPER, _TIE), (_ANODE, _TIE)]),
            draw.joint((_ANODE, _TIE)),
            draw.joint((_LOWER, _TIE)),
            _ring(leads, ((_LOWER + _UPPER) / 2, _TIE), plates.terminal_upper, "anode"),
            _ring(leads, (_LOWER, 355), plates.terminal_lower, "anode"),
        ]
        return [*common, *_plate_leads(ends), *tie]
    meter = [
        draw.wire([(_LOWER, _PLATE_METER), (_UPPER, _PLATE_METER)]),
        draw.joint((_LOWER, _PLATE_METER)),
        draw.joint((_UPPER, _PLATE_METER)),
        draw.meter(((_LOWER + _UPPER) / 2, _PLATE_METER), "V"),
        *_meter_rings(settings, leads),
    ]
    own = settings.plate_source == "own supply"
    feed = _own_feed if own else _shared_feed
    return [*common, *meter, *feed(settings, plates, leads)]


def _meter_rings(settings: Settings, leads: tuple[Lead, ...]) -> list[str]:
    """Numbers of the plate voltmeter's leads; its + is on the right while the upper plate is +."""
    middle = (_LOWER + _UPPER) / 2
    right, left = ("−", "+") if settings.plate_reversed else ("+", "−")
    return [
        _ring(leads, (middle + 55, _PLATE_METER), f"plate voltmeter {right}"),
        _ring(leads, (middle - 55, _PLATE_METER), f"plate voltmeter {left}"),
    ]


def _own_feed(settings: Settings, plates: Plates, leads: tuple[Lead, ...]) -> list[str]:
    right, left = ("−", "+") if settings.plate_reversed else ("+", "−")
    middle = 560.0
    ends = {"symmetric": middle, "lower at anode": _LOWER, "upper at anode": _UPPER}
    start = ends[settings.plate_tie]
    way: list[Point] = [(start, _TIE), (_ANODE, _TIE)]
    terminals = [(_LOWER, left), (_UPPER, right)]
    name = "plate supply middle"
    if settings.plate_tie == "symmetric":
        way.insert(0, (middle, _TOP))
        terminals.insert(1, (middle, "middle"))
        joints = [draw.joint((_ANODE, _TIE))]
    else:
        joints = [draw.joint((_ANODE, _TIE)), draw.joint((start, _TIE))]
        name = plates.terminal_lower if start == _LOWER else plates.terminal_upper
    return [
        *_plate_leads({_LOWER: _TOP, _UPPER: _TOP}),
        draw.wire(way, [(_LOWER, _TIE)] if start != _LOWER else []),
        *joints,
        *_supply(440, 705, "plate supply", format_quantity(settings.plate_voltage, "V"),
                 tuple(terminals)),
        _ring(leads, (_UPPER, _METER), f"plate supply {right}", plates.terminal_upper),
        _ring(leads, (_LOWER, _METER), f"plate supply {left}", plates.terminal_lower),
        _ring(leads, ((_ANODE + _LOWER) / 2, _TIE), name, "anode"),
    ]  # fmt: skip


def _shared_feed(settings: Settings, plates: Plates, leads: tuple[Lead, ...]) -> list[str]:
    """Plates on the accelerating supply: one at the anode, the other one negative."""
    upper_tied = settings.plate_tie == "upper at anode"
    tied, other = (_UPPER, _LOWER) if upper_tied else (_LOWER, _UPPER)
    tied_lead, feed = plate_feeds(leads, settings)
    crossed = [(_LOWER, _TIE)] if upper_tied else []
    parts = [
        draw.wire([(tied, _TIE), (_ANODE, _TIE)], crossed),
        draw.joint((_ANODE, _TIE)),
        draw.number(((_LOWER + 60) if upper_tied else (_LOWER - 20), _TIE), tied_lead),
    ]
    if not needs_divider(settings):
        back = draw.wire([(other, _RETURN), (_CATHODE, _RETURN)], [(_ANODE, _RETURN)])
        ring = draw.number(((_ANODE + _LOWER) / 2, _RETURN), feed)
        joint = draw.joint((_CATHODE, _RETURN))
        return [*_plate_leads({tied: _TIE, other: _RETURN}), *parts, back, joint, ring]
    x, tap = 432.0, _RETURN - 26
    return [
        *_plate_leads({tied: _TIE, other: tap}),
        *parts,
        draw.wire([(x, _TIE), (x, _RETURN), (_CATHODE, _RETURN)], [(_ANODE, _RETURN)]),
        draw.joint((x, _TIE)),
        draw.joint((_CATHODE, _RETURN)),
        draw.resistor(x, tap - 17, tap + 17),
        draw.arrow((other, tap), (x + 8, tap)),
        draw.number(((_LOWER + x) / 2 + 4 if other == _LOWER else 560.0, tap), feed),
        _ring(leads, (x, _TIE + 17), "divider +"),
        _ring(leads, (x - 100, _RETURN), "divider −"),
        draw.label((x + 14, _RETURN), "divider"),
    ]


def _plate_leads(ends: dict[float, float]) -> list[str]:
    """The leads of both plates down to where they end."""
    return [
        draw.wire([(505, _PLATES[0]), (505, _OVER_TUBE), (_UPPER, _OVER_TUBE),
                   (_UPPER, ends[_UPPER])]),
        draw.wire([(_LOWER, _PLATES[1]), (_LOWER, ends[_LOWER])]),
    ]  # fmt: skip


def _coil_circuit(bench: Bench, settings: Settings, leads: tuple[Lead, ...]) -> list[str]:
    if bench.coils is None or bench.supplies.coils is None:
        return []
    chain = coil_chain(bench, settings)
    starts: tuple[float, ...] = (110.0, 240.0) if len(chain) == 4 else (175.0,)
    high = 90.0
    parts = []
    y = _OVER_TUBE
    for start, first, last in zip(starts, chain[::2], chain[1::2], strict=True):
        name, _, into = first.rpartition(" ")
        parts += [
            draw.wire([(_COIL, y), (_COIL, start)]),
            draw.coil(_COIL, start, start + high),
            draw.label((_COIL - 6, start + 6), into, anchor="end", size=draw.SMALL),
            draw.label((_COIL - 6, start + high + 4), last[-1], anchor="end", size=draw.SMALL),
            draw.label((_COIL - 6, start + high / 2 + 5), name, anchor="end", size=draw.SMALL),
        ]
        y = start + high
    if len(chain) == 4:
        parts.append(_ring(leads, (_COIL, (starts[0] + high + starts[1]) / 2), *chain[1:3]))
    return [
        *parts,
        draw.wire([(_COIL, y), (_COIL, _TOP)]),
        draw.wire([(_COIL_FEED, _TOP), (_COIL_FEED, _OVER_TUBE), (_COIL, _OVER_TUBE)]),
        draw.meter((_COIL_FEED, _TIE), "A"),
        *_supply(730, 880, "coil supply", format_quantity(settings.coil_current, "A"),
                 ((_COIL_FEED, "+"), (_COIL, "−"))),
        _ring(leads, (_COIL_FEED, _METER + 12), "coil supply +"),
        _ring(leads, (_COIL_FEED, _OVER_TUBE + 50), "ammeter −"),
        _ring(leads, (_COIL, _METER), "coil supply −"),
    ]  # fmt: skip


def _supply(
    left: float, right: float, name: str, setting: str, terminals: tuple[tuple[float, str], ...]
) -> list[str]:
    return [
        draw.box(left, _TOP, right, _BOTTOM, (name, setting)),
        *(draw.terminal((x, _TOP), mark) for x, mark in terminals),
    ]


def _ring(leads: tuple[Lead, ...], at: Point, *terminals: str) -> str:
    """The number of the lead between these terminals, on its wire."""
    return draw.number(at, find_lead(leads, *terminals).number)
