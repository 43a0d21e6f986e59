"""The language of what is said: chosen once, where the program meets a person."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from typing import Final

from glowtrace.words.catalogue import ENGLISH, FOLDER, messages, translations

VARIABLES: Final = ("GLOWTRACE_LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
"""Environment variables that choose the language, the first one that names one; all but the first
are those of POSIX."""
LANGUAGES: Final = tuple(sorted(path.name for path in FOLDER.iterdir() if path.is_dir()))
"""Languages that there are catalogues for."""

_SPOKEN: ContextVar[str | None] = ContextVar("spoken", default=None)


@dataclass(frozen=True)
class Language:
    """A language that messages are said in."""

    code: str = ENGLISH

    def say(self, key: str, **arguments: object) -> str:
        """Give a message with its arguments; in English where it is not translated.

        Parameters
        ----------
        key
            Of the message, as "model.caption.bench".
        arguments
            By their names; numbers as text. A message that counts something is chosen by the
            whole number ``n``.

        Examples
        --------
        >>> Language().say("bench.invented", name="my tube")
        'my tube (invented, for demonstration)'
        """
        subject = key.partition(".")[0]
        message, known = messages(subject)[key], translations(self.code, subject)
        if message.many:
            count = arguments["n"]
            assert isinstance(count, int)
            text = known.npgettext(key, message.one, message.many, count)
        else:
            text = known.pgettext(key, message.one)
        return text.format_map(arguments)


def language() -> Language:
    """Give the language that is spoken here: what `speaking` says, or else the environment."""
    return Language(_SPOKEN.get() or _of_environment())


def say(key: str, **arguments: object) -> str:
    """Give a message in the language that is spoken here, as `Language.say` does."""
    return language().say(key, **arguments)


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Speak a language for a while, whatever the environment says; in this thread alone."""
    before = _SPOKEN.set(code)
    try:
        yield
    finally:
        _SPOKEN.reset(before)


@cache
def _of_environment() -> str:
    return wanted_language(os.environ)


def wanted_language(environment: Mapping[str, str]) -> str:
    """Give the language that an environment asks for, where there is a catalogue; else English.

    Examples
    --------
    >>> wanted_language({"LANG": "xx_YY.UTF-8"}), wanted_language({})
    ('en', 'en')
    """
    for variable in VARIABLES:
        if asked := environment.get(variable):
            code = asked.partition(".")[0].partition("@")[0].replace("-", "_")
            return next((each for each in (code, code[:2]) if each in LANGUAGES), ENGLISH)
    return ENGLISH
