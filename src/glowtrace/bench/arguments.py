"""What a caller asks of a bench: a word or a count that makes no sense is refused in our own words.

Settings and parts of a bench check themselves; this is for the other arguments of public functions,
where a wrong word would otherwise pass for another one.
"""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Real
from typing import Final, get_args

from glowtrace.bench.picture import Model
from glowtrace.bench.ranges import show
from glowtrace.bench.wrong_fields import meant_name
from glowtrace.errors import GlowtraceError, Problem

MODELS: tuple[Model, ...] = get_args(Model)
_WANTED: Final = {
    "Bench": (
        "bench",
        'give a bench, such as ready_made("deflection tube") or load_bench("my-tube.toml")',
    ),
    "PreparedBench": ("prepared", "give a bench with its fields, as glowtrace.prepare makes it"),
    "Settings": ("settings", "give settings, such as Settings(accelerating_voltage=3000.0)"),
}
"""The usual name of an argument, and what to give for it, by its class."""


def require_kind(given: object, *kinds: type) -> None:
    """Refuse what is no bench, prepared bench or settings; the first of the kinds is asked for.

    Raises
    ------
    GlowtraceError
        It is of none of these kinds.
    """
    if not isinstance(given, kinds):
        field, wanted = _WANTED[kinds[0].__name__]
        raise GlowtraceError(Problem(field, show(given), wanted))


def require_model(model: object) -> None:
    """Refuse a field model that does not exist.

    Raises
    ------
    GlowtraceError
        It is neither "bench" nor "ideal".
    """
    require_word("model", model, MODELS)


def require_word(field: str, given: object, known: Sequence[str]) -> None:
    """Refuse a word that is not among the known ones; GlowtraceError."""
    if isinstance(given, str) and given in known:
        return
    choice = "choose " + " or ".join(f'"{name}"' for name in known)
    meant = meant_name(given.casefold(), known) if isinstance(given, str) else None
    hint = f" (did you mean {meant}?)" if meant else ""
    raise GlowtraceError(Problem(field, show(given), choice + hint))


def require_count(field: str, given: object, least: int) -> None:
    """Refuse what is no whole number of at least ``least``; GlowtraceError."""
    is_whole = isinstance(given, Real) and not isinstance(given, bool) and given == given // 1
    if not is_whole or not least <= given < float("inf"):  # type: ignore[operator]
        allowed = f"give a whole number, {least} or more"
        raise GlowtraceError(Problem(field, show(given), allowed))
