"""The light of the room, the audience and the camera as part of a page's address."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from glowtrace.bench.checking import check
from glowtrace.light.scene import Scene
from glowtrace.web.address import read_value, value_text

LIGHT: Final = "light."
_SUBJECT: Final = "the page’s address"


def told_scene(scene: Scene) -> dict[str, str]:
    """Give what differs from the usual scene by dotted path: {"light.room.illuminance": "20.0"}."""
    return dict(_flat(LIGHT, scene.model_dump(exclude_defaults=True)))


def read_scene(query: Mapping[str, str]) -> Scene:
    """Read it back; what is not told is as usual.

    Raises
    ------
    BenchError
        A value makes no sense.
    """
    data: dict[str, Any] = {}
    for path, text in query.items():
        if path.startswith(LIGHT):
            *parents, name = path.removeprefix(LIGHT).split(".")
            node = data
            for parent in parents:
                if not isinstance(node.get(parent), dict):
                    node[parent] = {}
                node = node[parent]
            node[name] = read_value(text)
    return check(Scene, data, _SUBJECT)


def _flat(prefix: str, data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in data.items():
        if isinstance(value, Mapping):
            yield from _flat(f"{prefix}{name}.", value)
        else:
            yield prefix + name, value_text(value)
