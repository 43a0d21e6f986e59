"""The wiring diagram: neat, black and white, every lead in it. No outside source.

Widths of letters are taken as at most 0.62 of their size, which holds for the usual sans-serif
letters on average.
"""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree

import pytest

from glowtrace.bench.checking import change
from glowtrace.bench.ready_made import ready_made
from glowtrace.bench.settings import Settings
from glowtrace.plan.diagram import wiring_diagram
from glowtrace.plan.wiring import wire

TUBE = ready_made("deflection tube")
FULL = {"accelerating_voltage": 3000.0, "plate_voltage": 1000.0, "coil_current": 0.14}
SHARED = {**FULL, "plate_source": "accelerating supply"}
NS = "{http://www.w3.org/2000/svg}"
LETTER = 0.62

CASES = [
    ("deflection tube", FULL),
    *[
        ("deflection tube", {**FULL, "plate_tie": tie, "plate_reversed": reverse})
        for tie in ("symmetric", "lower at anode", "upper at anode")
        for reverse in (False, True)
    ],
    *[
        ("deflection tube", {**SHARED, "plate_tie": tie, "plate_reversed": reverse,
                             "plate_voltage": volts})
        for tie, reverse in (("upper at anode", False), ("lower at anode", True))
        for volts in (0.0, 1000.0, 3000.0)
    ],
    ("fine-beam bulb", {"accelerating_voltage": 200.0, "coil_current": 1.5}),
    ("axial coil tube", {"accelerating_voltage": 500.0, "coil_current": 0.3,
                         "coil_reversed": True}),
]  # fmt: skip


def drawn(bench_name, settings, earthed="anode", **changes):
    bench = change(ready_made(bench_name), changes)
    chosen = Settings(**settings)
    wiring = wire(bench, chosen, earthed=earthed)
    return wiring_diagram(bench, chosen, wiring), wiring


def texts(svg):
    return list(ElementTree.fromstring(svg).iter(f"{NS}text"))


def extent(text):
    size = float(text.get("font-size"))
    width = len(text.text) * size * LETTER
    left = (
        float(text.get("x"))
        - {"start": 0.0, "middle": width / 2, "end": width}[text.get("text-anchor")]
    )
    base = float(text.get("y"))
    return left, base - 0.78 * size, left + width, base + 0.2 * size


def overlap(one, other):
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@pytest.mark.parametrize("earthed", ["anode", "cathode"])
@pytest.mark.parametrize(("name", "settings"), CASES)
def test_every_lead_is_in_the_drawing_once(name, settings, earthed):
    svg, wiring = drawn(name, settings, earthed)
    rings = ElementTree.fromstring(svg).findall(f".//{NS}circle[@r='13']")
    middles = {ring.get("cx") for ring in rings}
    numbers = [
        int(t.text)
        for t in texts(svg)
        if t.text.isdigit() and t.get("text-anchor") == "middle" and t.get("x") in middles
    ]
    assert sorted(numbers) == [lead.number for lead in wiring.leads]
    assert len(rings) == len(numbers)


@pytest.mark.parametrize("earthed", ["anode", "cathode"])
@pytest.mark.parametrize(("name", "settings"), CASES)
def test_no_label_lies_on_another_or_beyond_the_edge(name, settings, earthed):
    svg, _ = drawn(name, settings, earthed)
    boxes = {t: extent(t) for t in texts(svg)}
    assert len(boxes) > 20
    for box in boxes.values():
        assert box[0] >= 0
        assert box[1] >= 0
        assert box[2] <= 900
        assert box[3] <= 632
    clashes = [(a.text, b.text) for a, b in combinations(boxes, 2) if overlap(boxes[a], boxes[b])]
    assert clashes == []
    circles = [
        tuple(float(c.get(k)) for k in ("cx", "cy", "r"))
        for c in ElementTree.fromstring(svg).iter(f"{NS}circle")
    ]
    for (x, y, r), (u, v, s) in combinations(circles, 2):
        assert (x - u) ** 2 + (y - v) ** 2 > (r + s - 1) ** 2, (x, y, u, v)


def test_it_is_black_and_white_and_fetches_nothing():
    svg, _ = drawn("deflection tube", FULL)
    assert set(re.findall(r"#[0-9a-fA-F]{3,8}", svg)) == {"#000", "#fff"}
    assert re.findall(r"https?://[^\"']+", svg) == ["http://www.w3.org/2000/svg"]
    assert "script" not in svg


def test_equal_input_gives_equal_bytes():
    assert drawn("deflection tube", FULL)[0] == drawn("deflection tube", FULL)[0]


def test_polarity_marks_change_places_with_the_reversing_switch():
    straight = texts(drawn("deflection tube", FULL)[0])
    turned = texts(drawn("deflection tube", {**FULL, "plate_reversed": True})[0])

    def marks(found):
        return [t.text for t in found if t.text in "+−" and 440 < float(t.get("x")) < 705]

    assert marks(straight) == ["−", "+"]
    assert marks(turned) == ["+", "−"]


def test_names_with_signs_of_markup_and_of_any_length_are_safe():
    svg, _ = drawn(
        "deflection tube", FULL, name="<b>&" * 25, **{"plates.terminal_upper": "W" * 100}
    )
    boxes = [extent(t) for t in texts(svg)]
    assert "<b>" not in svg
    assert max(box[2] for box in boxes) <= 900
    assert any(t.text.startswith("<b>&") for t in texts(svg))
