"""Catalogues of messages: PO files of gettext, one a subject, one folder a language.

A message is found by its context, a key as "model.caption.bench"; what stands before the first
point names the file. The message itself is English, with named arguments in braces, so that every
tool for translators shows what is to be translated and checks the arguments
(``python-brace-format``). The folder ``en`` holds them all; its translations are empty.
"""

from __future__ import annotations

import gettext
import io
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from polib import POFile

FOLDER: Final = Path(__file__).parent / "catalogues"
ENGLISH: Final = "en"


@dataclass(frozen=True)
class Message:
    """A sentence with named arguments; where it counts something, also for many of it."""

    one: str
    many: str = ""

    @property
    def arguments(self) -> frozenset[str]:
        """The names of the arguments."""
        named = (name for _, name, _, _ in Formatter().parse(self.many or self.one))
        return frozenset(name for name in named if name)


def subjects() -> tuple[str, ...]:
    """Give the names of the English catalogues."""
    return tuple(sorted(path.stem for path in (FOLDER / ENGLISH).glob("*.po")))


@cache
def messages(subject: str) -> dict[str, Message]:
    """Give the English messages of a subject by their keys."""
    catalogue = _read(ENGLISH, subject)
    assert catalogue is not None, subject
    return {each.msgctxt: Message(each.msgid, each.msgid_plural) for each in catalogue}


@cache
def translations(language: str, subject: str) -> gettext.NullTranslations:
    """Give the translations of a subject; what is missing or marked as doubtful stays English."""
    catalogue = None if language == ENGLISH else _read(language, subject)
    if catalogue is None:
        return gettext.NullTranslations()
    return gettext.GNUTranslations(io.BytesIO(catalogue.to_binary()))


def _read(language: str, subject: str) -> POFile | None:
    from polib import pofile

    path = FOLDER / language / f"{subject}.po"
    return pofile(str(path), encoding="utf-8") if path.is_file() else None
