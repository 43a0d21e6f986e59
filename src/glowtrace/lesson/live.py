"""A lesson while it is held: what is asked, who answers, and whoever wants to hear of both.

All of it lives in one event loop; what must outlive the program is in the store, from which a
lesson is taken up again after the program was killed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

from pydantic import BaseModel, ConfigDict, ValidationError

from glowtrace.errors import GlowtraceError
from glowtrace.lesson.answer import Answer, Message, accepted, answer_from
from glowtrace.lesson.question import Question, question_from
from glowtrace.lesson.writer import AnswerWriter
from glowtrace.store import KeptAnswer, KeptLesson, Lessons

LASTS: Final = timedelta(hours=4)
"""How long a code is good for."""
MOST_OF_ONE: Final = 60
"""Answers of one learner to one question."""
MOST_LEARNERS: Final = 1000


class LessonOverError(GlowtraceError):
    """The lesson is closed or its code has expired."""


class LessonState(BaseModel):
    """What is asked and shown at the moment; kept with the lesson.

    Attributes
    ----------
    question
        The number of the question; 0 for none.
    takes
        Whether answers to it count.
    shows_predictions, shows_computed, shows_seen, shows_groups, shows_invitation
        What the audience sees of it.
    seen
        What was seen in the real experiment: lines of places (u, v) in m.
    step
        The step of the run sheet at which the desk stands, from 0.
    is_open_to_room, port
        Whether phones are let in, and at which port.
    """

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)

    question: int = 0
    takes: bool = False
    shows_predictions: bool = False
    shows_computed: bool = False
    shows_seen: bool = False
    shows_groups: bool = False
    shows_invitation: bool = True
    seen: tuple[tuple[tuple[float, float], ...], ...] = ()
    step: int = 0
    is_open_to_room: bool = False
    port: int = 0


@dataclass(frozen=True)
class Given:
    """The newest answer of a learner to a question."""

    learner: str
    nickname: str
    sequence: int
    answer: Answer


@dataclass
class _Answers:
    """The answers to one question.

    Attributes
    ----------
    newest
        Of each learner, of those that count.
    known
        By learner and the learner's number: whether it came late.
    """

    newest: dict[str, Given] = field(default_factory=dict)
    known: dict[str, dict[int, bool]] = field(default_factory=dict)

    @property
    def late(self) -> int:
        return sum(sum(each.values()) for each in self.known.values())

    def add(self, kept: KeptAnswer, answer: Answer) -> None:
        self.known.setdefault(kept.learner, {})[kept.sequence] = kept.is_late
        if kept.is_late:
            return
        before = self.newest.get(kept.learner)
        if before is None or before.sequence < kept.sequence:
            given = Given(kept.learner, kept.nickname, kept.sequence, answer)
            self.newest[kept.learner] = given


class LiveLesson:
    """A lesson that is being held.

    Parameters
    ----------
    lessons
        Where it is kept.
    kept
        The lesson; its state and answers are taken up as they were.
    """

    def __init__(self, lessons: Lessons, kept: KeptLesson) -> None:
        self.kept = kept
        self._lessons = lessons
        self._writer = AnswerWriter(lessons.keep)
        self.state = _state_from(kept.state)
        self.questions: dict[int, Question] = {
            number: question_from(text) for number, text in lessons.questions(kept.id).items()
        }
        self._answers: dict[int, _Answers] = {number: _Answers() for number in self.questions}
        self._learners: set[str] = set()
        for one in lessons.answers(kept.id):
            self._note(one, answer_from(one.text))
        self.connected: dict[str, int] = {}
        self._desks: set[Callable[[], None]] = set()
        self._pages: set[Callable[[], None]] = set()

    # ---- what there is ---------------------------------------------------------------------------

    @property
    def is_open(self) -> bool:
        """Whether learners may join and answer."""
        return self.kept.is_open(datetime.now(UTC))

    @property
    def question(self) -> Question | None:
        """What is asked."""
        return self.questions.get(self.state.question)

    def answers(self, number: int) -> Mapping[str, Given]:
        """Give the newest answer of each learner to a question, by the learner's id."""
        return self._answers[number].newest if number in self._answers else {}

    def late(self, number: int) -> int:
        """Tell how many answers came after the question was closed."""
        return self._answers[number].late if number in self._answers else 0

    @property
    def for_learners(self) -> dict[str, object]:
        """What every learner's page shows."""
        told: dict[str, object] = {"open": self.is_open, "names": self.kept.takes_nicknames}
        told |= {"title": self.kept.title, "number": self.state.question, "takes": self.state.takes}
        if self.question is not None:
            told["question"] = self.question.for_learners
        return told

    # ---- the teacher -----------------------------------------------------------------------------

    def ask(self, question: Question) -> int:
        """Ask a new question and give its number; answers to the one before count no more."""
        number = self._lessons.ask(self.kept.id, question.written)
        self.questions[number], self._answers[number] = question, _Answers()
        self.put(
            question=number,
            takes=True,
            shows_predictions=False,
            shows_computed=False,
            shows_seen=False,
            shows_groups=False,
            shows_invitation=False,
            seen=(),
        )
        return number

    def put(self, **changes: object) -> None:
        """Change what is asked and shown, by the names of `LessonState`."""
        state = LessonState.model_validate({**self.state.model_dump(), **changes})
        if state != self.state:
            self._lessons.put_state(self.kept.id, state.model_dump_json(exclude_defaults=True))
            self.state = state
            self._tell()

    def close(self) -> None:
        """End the lesson for learners."""
        self._lessons.close(self.kept.id)
        self.kept = self._lessons.open(self.kept.id)
        self._tell()

    def end(self) -> None:
        """Let go of it: what waits is kept, and nothing more is taken."""
        self._writer.end()

    # ---- learners --------------------------------------------------------------------------------

    async def take(self, message: Message) -> bool:
        """Keep an answer and say whether it counts; returns once it is on the disk.

        Raises
        ------
        LessonOverError
            The lesson is over.
        GlowtraceError
            It answers no question of this lesson, or not as it was asked.
        StoreError
            It could not be kept: to be sent again.
        """
        if not self.is_open:
            raise LessonOverError("This lesson is over. What you have not sent stays here.")
        question = self.questions.get(message.question)
        if question is None:
            raise GlowtraceError("This question is not part of the lesson.")
        known = self._answers[message.question].known.get(message.learner, {})
        if message.sequence in known:  # its acknowledgement was lost on the way
            return not known[message.sequence]
        answer = accepted(message, question)
        self._admit(message, len(known))
        is_late = message.question != self.state.question or not self.state.takes
        kept = KeptAnswer(
            self.kept.id,
            message.question,
            message.learner,
            message.sequence,
            datetime.now(UTC),
            is_late,
            answer.written,
            message.nickname.strip() if self.kept.takes_nicknames else "",
        )
        await self._writer.put(kept)
        self._note(kept, answer)
        self._tell(self._desks)
        return not is_late

    def _admit(self, message: Message, sent: int) -> None:
        """Refuse what is beyond all use: a learner who floods changes nothing for the others."""
        if sent >= MOST_OF_ONE:
            raise GlowtraceError("You have answered this often enough; your last answer counts.")
        if message.learner not in self._learners and len(self._learners) >= MOST_LEARNERS:
            raise GlowtraceError("This lesson is full.")

    def _note(self, kept: KeptAnswer, answer: Answer) -> None:
        self._learners.add(kept.learner)
        self._answers.setdefault(kept.question, _Answers()).add(kept, answer)

    # ---- who listens -----------------------------------------------------------------------------

    def arrived(self, learner: str) -> None:
        """Note that a page of a learner is connected."""
        self.connected[learner] = self.connected.get(learner, 0) + 1
        self._tell(self._desks)

    def left(self, learner: str) -> None:
        """Note that such a page is gone."""
        pages = self.connected.pop(learner, 0) - 1
        if pages > 0:
            self.connected[learner] = pages
        self._tell(self._desks)

    def listen(self, call: Callable[[], None], *, answers: bool) -> Callable[[], None]:
        """Have something called when another thing is asked; gives what ends that.

        With ``answers`` also when somebody answers, comes or goes, which is no learner's business.
        """
        listeners = self._desks if answers else self._pages
        listeners.add(call)
        return lambda: listeners.discard(call)

    def _tell(self, whom: set[Callable[[], None]] | None = None) -> None:
        for call in tuple(self._desks | self._pages if whom is None else whom):
            call()


class Wake:
    """Waits for changes of a lesson, any number of them as one."""

    def __init__(self, live: LiveLesson, *, answers: bool) -> None:
        self._changed = asyncio.Event()
        self._changed.set()
        self.stop = live.listen(self._changed.set, answers=answers)

    async def wait(self, longest_s: float | None = None) -> None:
        """Return at the next change, or at once where there was one since the last time."""
        with suppress(TimeoutError):
            await asyncio.wait_for(self._changed.wait(), longest_s)
        self._changed.clear()


def _state_from(written: str) -> LessonState:
    try:
        return LessonState.model_validate_json(written)
    except ValidationError:  # of another version: the teacher chooses anew
        return LessonState()
