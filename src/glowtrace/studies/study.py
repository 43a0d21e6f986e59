"""What a study is: a bench, what varies of it, what is read, and how many rows.

A row is one imagined bench at one setting of the knobs. What varies in it comes from the study and
the row's place alone, so that any row can be computed again without the others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from glowtrace.bench.arguments import require_count, require_model
from glowtrace.bench.doubts import Slack, mark_of, slack_names
from glowtrace.bench.files import bench_to_toml
from glowtrace.bench.knowledge import knowledge_of
from glowtrace.bench.model import Bench
from glowtrace.bench.picture import Model
from glowtrace.bench.ranges import Quantity
from glowtrace.bench.ratings import KNOBS
from glowtrace.bench.settings import Settings
from glowtrace.bench.wrong_fields import unknown_name
from glowtrace.demos.classification import KINDS
from glowtrace.errors import GlowtraceError, Problem
from glowtrace.studies.hidden_truth import Measurement, require_measurable
from glowtrace.studies.spreads import Among, Spread, require_spread
from glowtrace.sweeps.axes import Turnable, column_of, turnable

Array = NDArray[np.float64]
Plan = Literal["random", "designs", "shares", "hidden truth", "faults"]
"""How the rows are chosen. "random": each drawn on its own. "hidden truth": likewise, and e/m is
measured on each as on a bench of which the description alone is known. "faults": the faults of the
bench in turn, each told by an onlooker, and its cause looked for. "designs": every combination
of the values that are listed. "shares": evenly spread, for each number's share of the variance
(Saltelli et al., "Variance based sensitivity analysis of model output", Comput. Phys. Commun. 181
(2010) 259-270)."""

MOST_ROWS: Final = 10_000_000
_FEWEST_SHARES: Final = 16


@dataclass(frozen=True, kw_only=True)
class Study:
    """Many imagined benches, and what is read on them.

    Attributes
    ----------
    bench, settings
        What does not vary.
    vary
        What varies, by name: a knob ("plate_voltage"), a number of the bench by its path
        ("plates.gap", "coils.centre[0]"), or what no number tells ("slack.stray_field[2]"); each
        with a spread, or with a row of values.
    doubts
        Whether all numbers vary that the bench says it is not sure of, as far as ``vary`` does not
        name them.
    plan
        See `Plan`.
    rows
        How many; all combinations with the plan "designs". The plan "shares" takes as many of
        them as make whole blocks.
    seed
        Another one draws other rows.
    electrons, model, at
        As for `glowtrace.sweep`. With a measurement the model is that of the fit.
    measurement
        With the plan "hidden truth": how e/m is measured. Its fit knows the bench by its numbers
        and doubts, and nothing of ``vary``; it sets the knobs itself.
    read
        Names of the columns that the summary is about; what this screen shows when left out.
    wanted
        Kind of picture that is looked for, one of `glowtrace.demos.classification.KINDS`.
    beyond_ratings
        Whether to go on where rows are beyond a rating; such rows are marked.

    Raises
    ------
    GlowtraceError
        A name that is unknown, or a value that is not allowed.
    """

    bench: Bench
    settings: Settings
    vary: Mapping[str, Spread] = field(default_factory=dict)
    doubts: bool = False
    plan: Plan = "random"
    rows: int = 1000
    seed: int = 0
    electrons: int = 200
    model: Model = "bench"
    measurement: Measurement | None = None
    at: float | None = None
    read: tuple[str, ...] = ()
    wanted: str | None = None
    beyond_ratings: bool = False

    def __post_init__(self) -> None:
        require_model(self.model)
        for name, least in (("rows", 1), ("seed", 0), ("electrons", 1)):
            require_count(name, getattr(self, name), least)
        if self.plan not in get_args(Plan):
            raise GlowtraceError(unknown_name("plan", f"{self.plan}", get_args(Plan)))
        if self.wanted is not None and self.wanted not in KINDS:
            raise GlowtraceError(unknown_name("wanted", self.wanted, KINDS))
        vary = {name: require_spread(name, each) for name, each in self.vary.items()}
        for name in vary:
            turns(self.bench, name)
        # Knobs last: rows that follow one another then share a bench.
        ordered = sorted(vary, key=lambda name: name in KNOBS)
        object.__setattr__(self, "vary", {name: vary[name] for name in ordered})
        object.__setattr__(self, "read", tuple(self.read))
        if not self.names and self.plan != "faults":
            given = "none of its numbers is uncertain" if self.doubts else "nothing"
            raise GlowtraceError(Problem("vary", given, "name what varies"))
        self._require_plan()
        if self.count > MOST_ROWS:
            wanted = f"ask for {MOST_ROWS} or fewer"
            raise GlowtraceError(Problem("rows", f"{self.count}", wanted))

    def _require_plan(self) -> None:
        if (self.plan == "hidden truth") != (self.measurement is not None):
            given = "nothing was given" if self.measurement is None else f'plan "{self.plan}"'
            wanted = 'give one with the plan "hidden truth", and with no other'
            raise GlowtraceError(Problem("measurement", given, wanted))
        if self.measurement is not None:
            require_measurable(tuple(self.vary), KNOBS)
        if self.plan == "faults":
            self._require_table_of_faults()
        if self.plan == "designs":
            for name, spread in self.vary.items():
                if not isinstance(spread, Among):
                    wanted = "the plan designs needs a list, or a range with points"
                    raise GlowtraceError(Problem(f"vary: {name}", f"{spread}", wanted))
            if self.doubts:
                wanted = "the plan designs has no doubts: choose random or shares"
                raise GlowtraceError(Problem("doubts", "true", wanted))
        if self.plan == "shares":
            root = self.known_root
            if np.abs(root - np.diag(np.diag(root))).max(initial=0.0) > 0.0:
                wanted = "shares need numbers that are known on their own: choose random"
                raise GlowtraceError(Problem("doubts.together", "numbers known together", wanted))
            least = _FEWEST_SHARES * (len(self.names) + 2)
            if self.rows < least:
                wanted = f"{len(self.names)} numbers need {least} rows or more"
                raise GlowtraceError(Problem("rows", f"{self.rows}", wanted))

    def _require_table_of_faults(self) -> None:
        if self.names:
            wanted = "the plan faults has sizes of its own for all that may be off: leave it out"
            raise GlowtraceError(Problem("vary", ", ".join(self.names), wanted))
        if self.model != "bench":
            raise GlowtraceError(Problem("model", self.model, 'faults need the model "bench"'))

    @cached_property
    def known(self) -> tuple[tuple[str, ...], Array, Array]:
        """Names, means (n,) and covariance (n, n) of what varies because it is not known."""
        known = knowledge_of(self.bench)
        kept = [
            n
            for n, each in enumerate(known.names)
            if self.doubts
            and each not in self.vary
            and not (self.measurement and each.endswith("_meter"))  # it has meters of its own
        ]
        return (
            tuple(known.names[n] for n in kept),
            known.means[kept],
            known.covariance[np.ix_(kept, kept)],
        )

    @cached_property
    def known_root(self) -> Array:
        """Lower root (n, n) of that covariance."""
        return np.asarray(np.linalg.cholesky(self.known[2])) if self.known[0] else np.zeros((0, 0))

    @cached_property
    def names(self) -> tuple[str, ...]:
        """What varies (n): first what is named, then what is not known of the bench."""
        return (*self.vary, *self.known[0])

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """Names of their columns (n)."""
        return tuple(column_of(name, turns(self.bench, name).unit) for name in self.names)

    @property
    def base(self) -> int:
        """Blocks of the plan "shares": a power of 2."""
        return 1 << (self.rows // (len(self.names) + 2)).bit_length() - 1

    @property
    def count(self) -> int:
        """How many rows there are."""
        if self.plan == "designs":
            return int(np.prod([len(_listed(each)) for each in self.vary.values()], dtype=float))
        return self.base * (len(self.names) + 2) if self.plan == "shares" else self.rows

    @property
    def settings_a_bench(self) -> int:
        """How many rows that follow one another share a bench; 1 where each has its own."""
        if self.plan != "designs":
            return 1
        knobs = [_listed(each) for name, each in self.vary.items() if name in KNOBS]
        return int(np.prod([len(each) for each in knobs]))

    @property
    def fields_vary(self) -> bool:
        """Whether rows have fields of their own."""
        return any("." in name and not name.startswith(("slack.", "place.")) for name in self.names)

    def values(self, rows: range) -> Array:
        """Give what varies (rows, n) in SI in some of the rows, in the order of `names`."""
        if self.plan == "designs":
            lists = [_listed(each) for each in self.vary.values()]
            chosen = np.unravel_index(np.array(rows), [len(each) for each in lists])
            columns = [np.array(each)[n] for each, n in zip(lists, chosen, strict=True)]
            return np.stack(columns, axis=1)
        places = self._places(rows)
        count = len(self.vary)
        named = [each.at(places[:, n]) for n, each in enumerate(self.vary.values())]
        values = np.empty_like(places)
        values[:, :count] = np.stack(named, axis=1) if named else 0.0
        values[:, count:] = self.known[1] + ndtri(places[:, count:]) @ self.known_root.T
        for n, name in enumerate(self.names):
            if turns(self.bench, name).is_count:
                values[:, n] = np.rint(values[:, n])
        return values

    def _places(self, rows: range) -> Array:
        """Give places (rows, n) between 0 and 1, spread as the plan has it."""
        if self.plan in ("random", "hidden truth", "faults"):
            drawn = [np.random.default_rng([self.seed, row]) for row in rows]
            places = np.array([each.random(len(self.names)) for each in drawn])
            return places.reshape(len(rows), -1)
        return np.asarray(self._saltelli[np.array(rows)])

    @cached_property
    def _saltelli(self) -> Array:
        from glowtrace.studies.shares import sample_plan

        return sample_plan(self.names, self.base, self.seed)

    def record(self) -> dict[str, Any]:
        """Give the study as plain data, equal for equal studies."""
        spreads = {name: [type(s).__name__, *vars(s).values()] for name, s in self.vary.items()}
        plain = {
            name: getattr(self, name)
            for name in (
                "doubts", "plan", "rows", "seed", "electrons", "model", "at", "read", "wanted",
                "beyond_ratings",
            )
        }  # fmt: skip
        settings = self.settings.model_dump(mode="json")
        if self.measurement is not None:
            plain["measurement"] = self.measurement.record()
        return {"bench": bench_to_toml(self.bench), "settings": settings, "vary": spreads, **plain}


def turns(bench: Bench, name: str) -> Turnable:
    """Give unit and kind of what varies, or refuse a name that is none."""
    if name.startswith("slack."):
        if name not in slack_names():
            raise GlowtraceError(unknown_name("vary", name, slack_names()))
        mark = mark_of(Slack.model_fields[name.removeprefix("slack.").partition("[")[0]])
        return Turnable(mark.si_unit if isinstance(mark, Quantity) else "1")
    return turnable(bench, name)


def _listed(spread: Spread) -> tuple[float, ...]:
    return spread.values if isinstance(spread, Among) else ()
