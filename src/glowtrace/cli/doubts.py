"""Commands about how well a bench is known: what to measure better, and what the tube says."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from glowtrace.cli.frame import getting_ready, present
from glowtrace.cli.groups import with_groups
from glowtrace.cli.knobs import SettingsOptions
from glowtrace.cli.options import AsJson, BenchChoice, Overwrite, find_bench, is_path
from glowtrace.cli.outputs import Outputs
from glowtrace.cli.printing import print_paragraph, print_table
from glowtrace.errors import GlowtraceError, Problem

if TYPE_CHECKING:
    from glowtrace.bench.doubts import Seen
    from glowtrace.bench.learning import Learnt
    from glowtrace.bench.model import Bench
    from glowtrace.bench.observing import Observation
    from glowtrace.bench.prediction import Prediction, Share
    from glowtrace.bench.settings import Settings

_BAR, _LONGEST = "█", 20

Place = Annotated[
    str | None,
    typer.Option(
        "--at", metavar="X", help='Where along the tube, as in "95 mm"; else as on Rehearse.'
    ),
]


@with_groups
def doubts(
    bench: BenchChoice, options: SettingsOptions, at: Place = None, as_json: AsJson = False
) -> None:
    """Say where the line may lie, and what to measure better.

    The bench's file tells how well its numbers are known, as in gap = "49(1) mm". Each number's
    share of the doubt at these settings is given, and what would be left if it were exact.
    """
    found = find_bench(bench)
    settings = options.choose(found)
    x = read_place(at, found)
    with getting_ready(found) as (prepared, show):
        from glowtrace.bench.prediction import predict

        show(None, "how the line answers to each number")
        made = predict(prepared, settings)
        shares = made.shares(x) if made.belief.names else ()

    def tell() -> None:
        from glowtrace.words.knowledge import band_words, exact_words, measure_words

        if not shares:
            print_paragraph(exact_words())
            return
        print_paragraph(band_words(made, x))
        typer.echo()
        _tell_shares(found, shares)
        typer.echo()
        print_paragraph(measure_words(made, x))

    present(
        None, "doubts", lambda: _record(made, shares, x), tell,
        as_json=as_json, bench=found, settings=settings,
    )  # fmt: skip


@with_groups
def learn(
    bench: BenchChoice,
    options: SettingsOptions,
    point: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y",
            help='The line was seen here at these settings: "95 mm, 12.5(5) mm"; may be repeated.',
        ),
    ] = None,
    circle: Annotated[
        str | None,
        typer.Option(metavar="D", help='Diameter of the circle seen, as in "80(1) mm".'),
    ] = None,
    readings: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="A table of readings with its own settings, as `glowtrace readings` makes it: "
            "plates only, coils only, null or circle.",
        ),
    ] = None,
    photograph: Annotated[
        Path | None,
        typer.Option(metavar="IMAGE", help="A photograph of the line at these settings."),
    ] = None,
    grid_point: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PLACE=PIXEL",
            help='Where the photograph shows a crossing of the grid: "20 mm, -10 mm = 812, 1433".',
        ),
    ] = None,
    forget: Annotated[
        int, typer.Option(metavar="N", min=0, help="Take the last readings back, so many.")
    ] = 0,
    at: Place = None,
    keep: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Keep the bench with what was seen.")
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Tell what was seen on the real tube, and what changes.

    Where the line may lie is said before and after.

    Readings stay with the bench (--keep), and its own numbers as they were measured. A line that
    passes the axis is a reading too: its height there is 0 mm. What contradicts the description is
    told with the number that is likely wrong, and the reading that is worth making next.
    """
    with Outputs(overwrite=overwrite, as_json=as_json) as outputs:
        keep = outputs.want("--keep", keep, (".toml",))
        found = find_bench(bench)
        settings = options.choose(found)
        x = read_place(at, found)
        from glowtrace.bench.learning import with_seen

        seen = list(_seen(settings, point or (), circle))
        if readings is not None:
            seen += _in_table(readings, found)
        if photograph is not None:
            seen += _in_photograph(photograph, grid_point or [], found, settings)
        updated = with_seen(found, seen, forget)
        with getting_ready(updated) as (prepared, show):
            from glowtrace.bench.learning import learn as learn_from
            from glowtrace.bench.observing import READ_TO, next_observations
            from glowtrace.bench.prediction import predict

            show(None, "how the line answers to each number")
            learnt = learn_from(prepared)
            before = predict(prepared, settings, belief=learnt.before)
            after = predict(prepared, settings, belief=learnt.after)
            proposed = next_observations(prepared, settings, x, belief=learnt.after)
        best = proposed[0] if proposed else None
        if keep is not None:
            from glowtrace.bench.files import save_bench

            save_bench(updated, keep, is_explained=is_path(bench, ".toml"))
            outputs.note(keep)

        def tell() -> None:
            from glowtrace.words.knowledge import exact_words, learnt_words, next_words

            if not learnt.before.names:
                print_paragraph(exact_words())
                return
            for words in learnt_words(learnt, before, after, x):
                print_paragraph(words)
            print_paragraph(next_words(found, best, READ_TO))

        present(
            outputs, "learnt", lambda: _learnt_record(learnt, before, after, x, best), tell,
            as_json=as_json, bench=found, settings=settings,
        )  # fmt: skip


def read_place(text: str | None, bench: Bench) -> float:
    """Read a place along the tube in m; where Rehearse reads it first when left out."""
    from glowtrace.units import parse_quantity

    if text is not None:
        try:
            return parse_quantity(text, "m")
        except GlowtraceError as error:
            raise error.within("--at") from None
    return bench.plane.first_read_x


def _seen(settings: Settings, points: list[str] | tuple[()], circle: str | None) -> Iterator[Seen]:
    from glowtrace.bench.doubts import Seen

    for text in points:
        x_text, comma, y_text = text.partition(",")
        if not comma:
            wanted = 'give place and height, as in "95 mm, 12.5(5) mm"'
            raise GlowtraceError(Problem("--point", f'"{text}"', wanted))
        x, _ = _reading("--point", x_text)
        y, uncertainty = _reading("--point", y_text, is_uncertain=True)
        yield Seen(settings=settings, x=x, y=y, uncertainty=uncertainty)
    if circle is not None:
        size, uncertainty = _reading("--circle", circle, is_uncertain=True)
        yield Seen(what="circle", settings=settings, y=size, uncertainty=uncertainty)


def _in_table(path: Path, bench: Bench) -> tuple[Seen, ...]:
    from glowtrace.cli.options import read_text
    from glowtrace.measure.learning_readings import readings_to_learn_from, seen_in_table

    try:
        return seen_in_table(readings_to_learn_from(read_text(path)), bench)
    except GlowtraceError as error:
        raise error.within("--readings") from None


def _in_photograph(
    path: Path, grid_points: list[str], bench: Bench, settings: Settings
) -> tuple[Seen, ...]:
    from glowtrace.cli.photograph import line_in, screen_map_of
    from glowtrace.measure.learning_readings import seen_in_photograph
    from glowtrace.photographs.photograph import load_photograph

    taken = load_photograph(path)
    screen_map, says = screen_map_of(taken, bench, grid_points)
    if screen_map is None:
        raise GlowtraceError(f"--photograph: {says.replace('--at', '--grid-point')}")
    return seen_in_photograph(line_in(taken, screen_map, bench), bench, settings)


def _reading(option: str, text: str, *, is_uncertain: bool = False) -> tuple[float, float]:
    from glowtrace.units import parse_measurement

    try:
        found = parse_measurement(text, "m")
    except GlowtraceError as error:
        raise error.within(option) from None
    if is_uncertain and not found.uncertainty > 0.0:
        wanted = 'say how well it was read, as in "12.5(5) mm"'
        raise GlowtraceError(Problem(option, f'"{text.strip()}"', wanted))
    return found.value, found.uncertainty


def _tell_shares(bench: Bench, shares: tuple[Share, ...]) -> None:
    from glowtrace.units import percent
    from glowtrace.words.knowledge import half_width_words, share_rows

    print_table(
        ("number", "known as", "of the doubt", "", "left if exact, 95 %"),
        [
            (
                row.name,
                row.known,
                percent(row.share),
                _BAR * round(_LONGEST * row.share),
                half_width_words(row.without),
            )
            for row in share_rows(bench, shares)
        ],
        numbers=(2, 4),
    )


def _record(made: Prediction, shares: tuple[Share, ...], x: float) -> dict[str, Any]:
    if not shares:
        return {"x_m": x, "height": None, "shares": []}
    height = made.height(x)
    return {
        "x_m": x,
        "height": {"y_m": height.value, "standard_uncertainty_m": height.uncertainty},
        "way": made.way,
        "elsewhere": made.elsewhere,
        "shares": [
            {"number": each.name, "share": each.share, "alone_m": each.alone,
             "without_m": each.without}
            for each in shares
        ],
    }  # fmt: skip


def _learnt_record(
    learnt: Learnt, before: Prediction, after: Prediction, x: float, best: Observation | None
) -> dict[str, Any]:
    suspect = learnt.suspect
    heights = [each.height(x) for each in (before, after)]
    return {
        "x_m": x,
        "before": dict(zip(("y_m", "standard_uncertainty_m"), heights[0], strict=True)),
        "after": dict(zip(("y_m", "standard_uncertainty_m"), heights[1], strict=True)),
        "readings": len(learnt.residuals),
        "probability": learnt.probability,
        "is_linear": learnt.is_linear,
        "suspect": None if suspect is None else {
            "number": suspect.name, "value_si": suspect.value,
            "standard_uncertainties_away": suspect.away,
        },
        "odd_reading": learnt.odd,
        "combinations": [
            {"numbers": dict(each.numbers), "left": each.left} for each in learnt.combinations
        ],
        "next": None if best is None else {
            "settings": best.settings.model_dump(mode="json"), "x_m": best.x,
            "times_narrower": best.narrower,
        },
    }  # fmt: skip
