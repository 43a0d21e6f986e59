"""The drawing of a bench is to scale: each dimension is as long as its number says."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from operator import attrgetter

import pypdf
import pytest

from glowtrace.bench.beginnings import beginnings
from glowtrace.bench.conflicts import Assembly
from glowtrace.bench.meanings import PARTS, numbers_of
from glowtrace.bench.model import Bench
from glowtrace.report.bench_drawing import draw_bench
from glowtrace.report.look import PRINT
from glowtrace.report.measuring_sheet import print_measuring_sheet

SVG = "{http://www.w3.org/2000/svg}"
BENCHES = beginnings()


def parts_of(bench: Bench) -> Assembly:
    return Assembly(**{name: getattr(bench, name) for name in Assembly.model_fields})


def drawn_lengths(svg: str) -> dict[str, float]:
    """Give the length of each dimension line, in the drawing's units."""
    lengths = {}
    for group in ET.fromstring(svg).iter(f"{SVG}g"):
        if number := group.get("data-number"):
            line = group.find(f"{SVG}path")
            assert line is not None
            x0, y0, x1, y1 = map(float, re.findall(r"-?\d+\.?\d*", line.get("d") or "")[:4])
            lengths[number] = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    return lengths


@pytest.mark.parametrize("bench", BENCHES.values(), ids=BENCHES)
def test_every_dimension_is_drawn_to_one_scale(bench: Bench) -> None:
    drawing = draw_bench(parts_of(bench))
    lengths = drawn_lengths(drawing.svg)
    assert set(lengths) == set(drawing.letters)
    assert len(set(drawing.letters.values())) == len(drawing.letters)
    true = {path: attrgetter(path)(bench) for path in lengths}
    sizes = {
        path: abs(value[0] if isinstance(value, tuple) else value) for path, value in true.items()
    }
    longest = max(sizes, key=lambda path: sizes[path])
    scale = lengths[longest] / sizes[longest]
    for path, size in sizes.items():
        assert lengths[path] == pytest.approx(scale * size, abs=0.3), path


def test_a_bench_is_drawn_while_parts_are_missing() -> None:
    whole = parts_of(BENCHES["Line on a sheet"])
    assert draw_bench(Assembly()).letters == {}
    without = draw_bench(whole.model_copy(update={"coils": None, "plates": None}))
    assert not any(path.startswith(("coils", "plates")) for path in without.letters)


def test_a_number_that_contradicts_others_is_marked() -> None:
    drawn = draw_bench(parts_of(BENCHES["Line on a sheet"]), PRINT, frozenset({"plates.gap"}))
    marked = [
        group.get("data-number")
        for group in ET.fromstring(drawn.svg).iter(f"{SVG}g")
        if "is-wrong" in (group.get("class") or "")
    ]
    assert marked == ["plates.gap"]


@pytest.mark.parametrize("bench", BENCHES.values(), ids=BENCHES)
def test_the_measuring_sheet_asks_for_every_number(bench: Bench, tmp_path) -> None:
    numbers = []
    for part, name in PARTS.items():
        standing = attrgetter(part)(bench)
        if standing is not None:
            numbers.append((name, tuple(numbers_of(part, type(standing)))))
    file = tmp_path / "sheet.pdf"
    file.write_bytes(print_measuring_sheet(bench.name, numbers, parts_of(bench)))
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(file).pages)
    text = " ".join(text.split())
    for _, asked in numbers:
        for number in asked:
            assert number.meaning.name in text
    assert "responsible" in text
