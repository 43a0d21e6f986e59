"""What the audience sees of a lesson, from its state."""

from __future__ import annotations

from collections.abc import Sequence

from glowtrace.lesson.live import LiveLesson
from glowtrace.lesson.meaning import Group
from glowtrace.lesson.question import Question
from glowtrace.lesson.shown import Invitation, LessonShown, Mark, Tally
from glowtrace.words import say
from glowtrace.words.lesson import meaning_words


def audience_sees(
    live: LiveLesson, groups: Sequence[Group], invitation: Invitation | None
) -> LessonShown:
    """Give it.

    Parameters
    ----------
    live
        The lesson.
    groups
        The predictions of its question by what they mean.
    invitation
        How to join, where that is shown.
    """
    state, question = live.state, live.question
    if question is None:
        return LessonShown(invitation=invitation)
    number = len(live.answers(state.question))
    return LessonShown(
        hides_picture=question.kind == "predict" and not state.shows_computed,
        marks=(*_predictions(live), *_seen(live)),
        question=question.text,
        note=say("lesson.answered", n=number, count=str(number)),
        tallies=_tallies(live, question, groups) if state.shows_groups else (),
        invitation=invitation,
    )


def _predictions(live: LiveLesson) -> tuple[Mark, ...]:
    if not live.state.shows_predictions:
        return ()
    given = live.answers(live.state.question).values()
    lines = (one.answer.line for one in given if one.answer.line)
    return tuple(Mark("prediction", tuple((1e-3 * u, 1e-3 * v) for u, v in line)) for line in lines)


def _seen(live: LiveLesson) -> tuple[Mark, ...]:
    return tuple(Mark("seen", line) for line in live.state.seen) if live.state.shows_seen else ()


def _tallies(live: LiveLesson, question: Question, groups: Sequence[Group]) -> tuple[Tally, ...]:
    if question.kind == "predict":
        return tuple(Tally(meaning_words(group.meaning), group.count) for group in groups)
    return tuple(Tally(text, count) for _, text, count in choice_counts(live, live.state.question))


def choice_counts(live: LiveLesson, number: int) -> tuple[tuple[str, str, int], ...]:
    """Give key, text and count of each choice of a question, in their order."""
    chosen = [one.answer.choice for one in live.answers(number).values()]
    choices = live.questions[number].choices
    return tuple((choice.key, choice.text, chosen.count(choice.key)) for choice in choices)
