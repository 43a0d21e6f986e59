"""What learners are asked: to predict, to choose among accounts, or to read the real tube."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from glowtrace.bench.files import settings_from_toml
from glowtrace.bench.screen_plane import ScreenPlane
from glowtrace.bench.settings import Settings
from glowtrace.measure.methods import Method

Kind = Literal["predict", "ask", "read"]
Drawing = Literal["line", "spot", "circle"]
DRAWINGS: Final[dict[str, Drawing]] = {"line": "line", "spot": "spot", "path": "circle"}
"""What is drawn on a screen, by what it shows (`ScreenPlane.shows`)."""
MOST_PHOTOGRAPH: Final = 1_500_000
"""Bytes of a photograph that groups read; phones get it over the room's Wi-Fi."""
MOST_CHOICES, MOST_FIELDS, MOST_GROUPS = 8, 6, 30
Text = Annotated[str, Field(max_length=600)]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Choice(_Frozen):
    """One way to answer in words."""

    key: Annotated[str, Field(max_length=40)]
    text: Text


class Screen(_Frozen):
    """The blank screen that learners draw on, in mm, as `ScreenPlane` has it in m."""

    extent: tuple[float, float, float, float]
    """u0, u1, v0, v1."""
    grid: float
    mirrored: bool
    axes: tuple[str, str]


class Asked(_Frozen):
    """One number that is read off: a column of a table of readings."""

    column: str
    symbol: str
    text: Text
    unit: str
    si_unit: str
    low: float
    """SI, as is `high`: outside of them it cannot be."""
    high: float


class Task(_Frozen):
    """What one group sets and reads: in words, and for each field the other columns in SI."""

    told: Text
    rows: tuple[dict[str, float], ...]


class Question(_Frozen):
    """One question of a lesson.

    Attributes
    ----------
    kind, text
        What learners do, and what they are asked, in words.
    draws
        What they draw; None where they only choose or type.
    choices
        Answers in words; with a drawing they are its alternative.
    screen
        What they draw on.
    settings_text
        The knobs that the question is about, as TOML; empty where they are of no account.
    method, fields, tasks
        To read: the method of measuring, what is typed, and what each group sets.
    photograph
        To read instead of the real tube: JPEG, base64; empty for none.
    repeats
        The number of the earlier question that this one asks again; 0 for none.
    """

    kind: Kind
    text: Text
    draws: Drawing | None = None
    choices: Annotated[tuple[Choice, ...], Field(max_length=MOST_CHOICES)] = ()
    screen: Screen | None = None
    settings_text: str = ""
    method: Method | None = None
    fields: Annotated[tuple[Asked, ...], Field(max_length=MOST_FIELDS)] = ()
    tasks: Annotated[tuple[Task, ...], Field(max_length=MOST_GROUPS)] = ()
    photograph: Annotated[str, Field(max_length=MOST_PHOTOGRAPH * 4 // 3 + 4)] = ""
    repeats: int = 0

    @property
    def settings(self) -> Settings | None:
        """The knobs that it is about."""
        return settings_from_toml(self.settings_text) if self.settings_text else None

    @property
    def written(self) -> str:
        """The question as JSON, as it is kept."""
        return self.model_dump_json()

    @property
    def for_learners(self) -> dict[str, object]:
        """What a learner's page needs: no settings, as the picture could be computed from them."""
        told = self.model_dump(include={"kind", "text", "draws", "choices", "screen"})
        told["photograph"] = bool(self.photograph)
        fields = [field.model_dump(include={"symbol", "text", "unit"}) for field in self.fields]
        return {**told, "fields": fields, "tasks": [task.told for task in self.tasks]}


def question_from(written: str) -> Question:
    """Read a question as `Question.written` gave it."""
    return Question.model_validate_json(written)


def screen_of(plane: ScreenPlane) -> Screen:
    """Give the blank screen of a bench."""
    u0, u1, v0, v1 = (round(1e3 * edge, 3) for edge in plane.extent)
    return Screen(
        extent=(u0, u1, v0, v1),
        grid=1e3 * plane.grid_pitch,
        mirrored=plane.is_mirrored,
        axes=plane.axis_names,
    )
