"""The answers of worksheets, worked out again here: plain arithmetic with CODATA's constants.

The formulas are those of any school text (parabola between plates, circle in a uniform field,
v = E/B, trochoid, helix); none of this project's functions takes part. The inputs are read out of
the printed text of each question, as a learner has them, so that a number that is not on the sheet
cannot answer it. The coils' flux density for 1 A is printed to four figures, and the key goes on
from the unrounded one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest
from scipy import constants

from glowtrace.bench.model import CoilPair
from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made, ready_made_names
from glowtrace.report.worksheets.content import Question
from glowtrace.report.worksheets.worksheet import build_worksheet

E, M, C, MU_0 = constants.e, constants.m_e, constants.c, constants.mu_0
SEEDS = (1, 8, 4711)
UNITS = {"kV": 1e3, "V": 1.0, "mA": 1e-3, "A": 1.0, "mm": 1e-3, "m": 1.0, "mT": 1e-3, "µT": 1e-6}
NUMBER = r"(−?\d+(?:\.\d+)?)"


PRINTED = re.compile(
    r"[=:] (-?\d+(?:\.\d+)?)(?: ±[^m%]*)?(?: × 10(-?\d+))?(?: (\S+))?$|"
    r"(-?\d+\.\d+) (mm)(?: apart)?$|= (-?\d+\.\d+) ± \S+ (mm)"
)
"""A result's number and unit."""


@pytest.fixture(scope="module")
def benches() -> dict[str, PreparedBench]:
    return {name: prepare(ready_made(name)) for name in ready_made_names()}


def given(question: Question, pattern: str) -> float:
    """Read a quantity behind or around some words of a question; "#" stands for it."""
    text = " ".join(question.text)
    units = "|".join(sorted(UNITS, key=len, reverse=True))
    found = re.search(pattern.replace("#", rf"{NUMBER} ({units})(?![A-Za-z])"), text)
    assert found, f"{pattern} is not in: {text}"
    return float(found[1].replace("−", "-")) * UNITS[found[2]]


def per_ampere(question: Question, prepared: PreparedBench) -> float:
    """Work out the coils' flux density for 1 A, in T; the printed one is this to four figures."""
    coils = prepared.bench.coils
    if isinstance(coils, CoilPair):
        found = 0.8**1.5 * MU_0 * coils.turns / coils.mean_radius
    else:
        assert coils is not None
        length = coils.x_to - coils.x_from
        found = MU_0 * coils.turns / math.hypot(2 * coils.mean_radius, length)
    assert given(question, "# at 1 A") == pytest.approx(found, rel=5e-4)
    return float(found)


def power(question: Question, unit: str) -> float:
    """Read a number a × 10ⁿ before a unit."""
    plain = " ".join(question.text).translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    found = re.search(rf"{NUMBER} × 10(-?\d+) {re.escape(unit)}", plain)
    assert found
    return float(found[1]) * 10.0 ** int(found[2])


def part(question: Question) -> tuple[float, ...]:
    """Read the fractions that a question asks for, in their order."""
    words = {"half": 2.0, "a third": 3.0, "a quarter": 4.0, "a ninth": 9.0}
    found = re.findall("half|a third|a quarter|a ninth", " ".join(question.text))
    return tuple(words[each] for each in found)


def values(question: Question) -> list[float]:
    return [one.value for one in question.results]


def energy(question: Question, _: PreparedBench) -> None:
    voltage = given(question, "voltage of #")
    assert values(question) == pytest.approx([E * voltage, E * voltage], rel=1e-12)
    assert question.results[0].text == f"W = {voltage:.0f} eV"


def units(question: Question, _: PreparedBench) -> None:
    text = question.text[0].split(": ")[1].rstrip(".")
    for asked, one in zip(text.split(", "), question.results, strict=True):
        found = re.search(rf"{NUMBER} (\w+)$", asked)
        assert found
        assert one.value == pytest.approx(float(found[1]) * UNITS[found[2]])
        told = one.text.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
        figures = re.search(r"(\d\.\d) × 10(-?\d+)", told)
        assert figures
        assert float(figures[1]) * 10 ** int(figures[2]) == pytest.approx(one.value, rel=1e-9)


def speed(question: Question, _: PreparedBench) -> None:
    voltage = given(question, r"V. ?ₐ? ?= #|Vₐ = #") if "Vₐ" in question.text[0] else None
    if voltage is None:
        fast, ratio = power(question, "m/s"), math.sqrt(part(question)[0])
        assert values(question) == pytest.approx([fast / ratio], rel=1e-12)
        voltage = given(question, "accelerated by #")
        assert fast == pytest.approx(math.sqrt(2 * E * voltage / M), rel=6e-3)
        return
    classical = math.sqrt(2 * E * voltage / M)
    assert values(question) == pytest.approx([classical, classical / C], rel=1e-9)
    gamma = 1 + E * voltage / (M * C**2)
    exact = C * math.sqrt(1 - gamma**-2)
    if 1 - exact / classical > 0.001:
        assert f"{100 * (1 - exact / classical):.2g} % less" in question.remark
    else:
        assert question.remark == ""


def field_and_force(question: Question, _: PreparedBench) -> None:
    field = given(question, "Vₚ = #") / given(question, "d = #")
    expected = [field, E * field, E * field / (M * 9.81)]
    assert values(question) == pytest.approx(expected, rel=1e-9)


def proportion(question: Question, prepared: PreparedBench) -> None:
    if "coils’" in question.text[0]:
        one, current = per_ampere(question, prepared), given(question, "is it at #")
        assert values(question) == pytest.approx([one * current, current / 2], rel=1e-9)
    else:
        height = given(question, "line is # off")
        assert values(question) == pytest.approx([height / part(question)[0], height / 2])


def deflection(question: Question, prepared: PreparedBench) -> None:
    accelerating, plate = given(question, "Vₐ = #"), given(question, "Vₚ = #")
    length, gap = given(question, "L = #"), given(question, "d = #")
    x, start = given(question, "x = #"), given(question, "begin at #")
    speed = math.sqrt(2 * E * accelerating / M)
    acceleration = E * plate / gap / M
    time = min(x - start, length) / speed
    beyond = max(0.0, x - start - length)
    height = acceleration * time**2 / 2 + acceleration * time / speed * beyond
    assert values(question) == pytest.approx([time, acceleration, height], rel=1e-9)
    assert height < gap / 2
    assert prepared.bench.plates is not None
    assert (length, gap) == pytest.approx(
        (prepared.bench.plates.length, prepared.bench.plates.gap), rel=1e-9
    )


def flux_density(question: Question, prepared: PreparedBench) -> None:
    coils = prepared.bench.coils
    assert coils is not None
    turns = int(re.search(r"n = (\d+)", question.text[0])[1])  # type: ignore[index]
    radius, current = given(question, "R = #"), given(question, "I = #")
    assert values(question) == pytest.approx([0.8**1.5 * MU_0 * turns * current / radius])
    assert (turns, radius) == (coils.turns, pytest.approx(coils.mean_radius))


def circle(question: Question, _: PreparedBench) -> None:
    if "Derive" in question.text[0]:
        voltage, flux = given(question, "Vₐ = #"), given(question, "field of #")
        assert values(question) == pytest.approx([math.sqrt(2 * M * voltage / E) / flux], rel=1e-9)
        return
    radius, (of_current, of_voltage) = given(question, "radius #"), part(question)
    expected = [radius * of_current, radius / math.sqrt(of_voltage)]
    assert values(question) == pytest.approx(expected)


def time(question: Question, _: PreparedBench) -> None:
    flux, voltage = given(question, "that at #"), given(question, "electron of #")
    turn = 2 * math.pi * M / (E * flux)
    expected = [turn, math.sqrt(2 * E * voltage / M) * turn]
    assert values(question) == pytest.approx(expected, rel=1e-9)


def charge_over_mass(question: Question, prepared: PreparedBench) -> None:
    one = per_ampere(question, prepared)
    if "focused" in question.text[0]:
        flux = one * given(question, "focused at #")
        length = given(question, "turn over #")
        expected = 8 * math.pi**2 * given(question, "with #") / (flux * length) ** 2
    else:
        flux, radius = one * given(question, "and #"), given(question, "is # across") / 2
        expected = 2 * given(question, "tube at #") / (flux * radius) ** 2
    assert values(question) == pytest.approx([expected, 100 * (expected * M / E - 1)], rel=1e-6)
    assert expected == pytest.approx(E / M, rel=0.08)  # a tube that measures what it should


def focus(question: Question, prepared: PreparedBench) -> None:
    if "Vₐ" not in question.text[0]:
        current = given(question, "current of #")
        assert values(question) == pytest.approx([2 * current, current / 2])
        return
    voltage, length = given(question, "Vₐ = #"), given(question, "face, #")
    flux = 2 * math.pi * math.sqrt(2 * M * voltage / E) / length
    expected = [flux, flux / per_ampere(question, prepared)]
    assert values(question) == pytest.approx(expected, rel=1e-9)


def null(question: Question, prepared: PreparedBench) -> None:
    field = given(question, "Vₚ = #") / given(question, "d = #")
    flux = field / math.sqrt(2 * E * given(question, "Vₐ = #") / M)
    expected = [flux, flux / per_ampere(question, prepared)]
    assert values(question) == pytest.approx(expected, rel=1e-9)


def turn_back(question: Question, prepared: PreparedBench) -> None:
    assert prepared.bench.plates is not None
    gap, coils = prepared.bench.plates.gap, prepared.bench.coils
    assert isinstance(coils, CoilPair)
    current = given(question, "and # in the coils")
    flux = 0.8**1.5 * MU_0 * coils.turns * current / coils.mean_radius
    assert given(question, "B = #") == pytest.approx(flux, rel=5e-4)
    entry = math.sqrt(2 * E * given(question, "Vₐ = #") / M)
    drift = given(question, "Vₚ = #") / gap / flux
    depth, pitch = 2 * M * (entry - drift) / (E * flux), 2 * math.pi * M * drift / (E * flux)
    expected = [drift, depth, pitch, 2 * drift - entry]
    assert values(question) == pytest.approx(expected, rel=1e-9)
    assert 0.0 < depth < gap / 2
    assert 0.5 < drift / entry < 1.0


CHECKS: dict[str, Callable[[Question, PreparedBench], None]] = {
    "Units": units,
    "Energy": energy,
    "Speed": speed,
    "Field and force": field_and_force,
    "Proportion": proportion,
    "Deflection": deflection,
    "Flux density": flux_density,
    "Circle": circle,
    "Time": time,
    "Charge over mass": charge_over_mass,
    "Focus": focus,
    "Null": null,
    "Turn-back": turn_back,
}
IN_WORDS = {"Direction", "Explain"}


@pytest.mark.parametrize("name", ready_made_names())
@pytest.mark.parametrize("level", ["proportion", "algebra"])
@pytest.mark.parametrize("seed", SEEDS)
def test_every_answer_follows_from_the_printed_numbers(
    benches: dict[str, PreparedBench], name: str, level: str, seed: int
) -> None:
    sheet = build_worksheet(benches[name], level, seed=seed, learner=2)
    checked = 0
    for question in sheet.questions:
        if question.topic in CHECKS:
            CHECKS[question.topic](question, benches[name])
            checked += 1
        else:
            assert question.topic in IN_WORDS | {"Reading"}
            assert question.steps
    assert checked >= 4


def test_a_focus_is_told_as_the_curve_on_the_same_sheet_shows_it(
    benches: dict[str, PreparedBench],
) -> None:
    sheet = build_worksheet(benches["axial coil tube"], "algebra", seed=7)
    by_topic = {question.topic: question for question in sheet.questions}
    read = by_topic["Reading"].results[0].value
    told = given(by_topic["Charge over mass"], "focused at #")
    here = re.search(rf"In this tube {NUMBER} mA", by_topic["Focus"].remark)
    assert here
    assert told == pytest.approx(float(here[1]) * 1e-3, rel=2e-3)
    # One is an electron that leaves aslant, the other the whole bundle's height.
    assert told == pytest.approx(read, rel=0.015)


@pytest.mark.parametrize("name", ready_made_names())
@pytest.mark.parametrize("level", ["proportion", "algebra"])
def test_every_printed_result_is_the_value_rounded(
    benches: dict[str, PreparedBench], name: str, level: str
) -> None:
    """A printed number is its value to two figures at least, in the unit beside it."""
    sheet = build_worksheet(benches[name], level, seed=5)
    prefixes = {"k": 1e3, "m": 1e-3, "µ": 1e-6, "n": 1e-9, "M": 1e6}
    for question in sheet.questions:
        for one in question.results:
            text = one.text.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹−", "-0123456789-"))
            text = text.replace("²", "2")
            found = PRINTED.search(text)
            assert found, text
            number = float(found[1] or found[4] or found[6]) * 10.0 ** int(found[2] or 0)
            unit = found[3] or found[5] or found[7] or "1"
            if unit == "eV":
                number *= E
            elif unit != one.unit.replace("²", "2") and unit not in ("%",):
                number *= prefixes[unit[0]]
            elif unit == "%" and one.unit == "1":
                number /= 100
            fine = {"mm": 2e-4, "%": 0.051 if one.unit == "%" else 0.0}.get(unit, 0.0)
            assert number == pytest.approx(one.value, rel=0.06, abs=fine)
