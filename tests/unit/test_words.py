"""The catalogues hold every message that the code says, with its arguments, and say it in English.

The snapshot `words.en.txt` pins the English. After a wanted change of words:
``python tests/unit/test_words.py`` writes it anew, and its difference is read like code.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from glowtrace.words import LANGUAGES, Language, catalogue, speaking
from glowtrace.words import say as say_here
from glowtrace.words.catalogue import ENGLISH, messages, subjects

SOURCE = Path(__file__).parents[2] / "src" / "glowtrace"
SNAPSHOT = Path(__file__).with_name("words.en.txt")
IMPORTED = re.compile(
    r"from glowtrace\.(?:words(?:\.language)?|findings) import .*?\b(say|finding)\b"
)
EVERY = {key: message for subject in subjects() for key, message in messages(subject).items()}


def calls() -> Iterator[tuple[str, re.Pattern[str], frozenset[str]]]:
    """Give every call of `say` or `finding`: place, keys it can mean, and its arguments' names."""
    for path in sorted(SOURCE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        names = set(IMPORTED.findall(text))
        if not names:
            continue
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            if node.func.id in names:
                given = frozenset(str(each.arg) for each in node.keywords)
                for key in _choices(node.args[0]):
                    if isinstance(key, ast.Attribute):  # of a finding, which was looked at itself
                        continue
                    yield f"{path.relative_to(SOURCE)}:{node.lineno}", _pattern(key), given


def _choices(key: ast.expr) -> list[ast.expr]:
    """Give the expressions of which a key is one, as far as they stand at the call or above it."""
    if isinstance(key, ast.IfExp):
        return [*_choices(key.body), *_choices(key.orelse)]
    return [key]


def _pattern(key: ast.expr) -> re.Pattern[str]:
    """Give what matches the keys that a text, or one with parts, can be."""
    if isinstance(key, ast.Constant):
        return re.compile(re.escape(key.value))
    assert isinstance(key, ast.JoinedStr), ast.dump(key)
    parts = [
        re.escape(each.value) if isinstance(each, ast.Constant) else "[^.]+" for each in key.values
    ]
    return re.compile("".join(map(str, parts)))


def is_said(key: str, keys: re.Pattern[str], given: frozenset[str]) -> bool:
    """Say whether a call means a message, and gives it all its arguments."""
    message = EVERY[key]
    wanted = message.arguments | ({"n"} if message.many else set())
    return bool(keys.fullmatch(key)) and given == wanted


def snapshot() -> str:
    """Give every English message on a line."""
    lines = []
    for key, message in sorted(EVERY.items()):
        lines.append(f"{key}: {message.one}" + (f" | {message.many}" if message.many else ""))
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(("place", "keys", "given"), [pytest.param(*c, id=c[0]) for c in calls()])
def test_what_is_said_is_in_the_catalogue_with_its_arguments(place, keys, given) -> None:
    assert any(is_said(key, keys, given) for key in EVERY), place


def test_every_message_is_said_somewhere_with_its_arguments() -> None:
    every = list(calls())
    assert [
        key for key in EVERY if not any(is_said(key, keys, given) for _, keys, given in every)
    ] == []


def test_a_message_stands_in_the_catalogue_that_its_key_names() -> None:
    for subject in subjects():
        assert {key.partition(".")[0] for key in messages(subject)} == {subject}


def test_the_english_is_what_the_snapshot_says() -> None:
    assert snapshot() == SNAPSHOT.read_text(encoding="utf-8")


@pytest.mark.parametrize("code", [each for each in LANGUAGES if each != ENGLISH] or [ENGLISH])
def test_another_language_has_keys_and_arguments_of_the_english(code: str) -> None:
    for subject in subjects():
        for each in catalogue._read(code, subject) or ():
            for text in (each.msgstr, *each.msgstr_plural.values()):
                named = catalogue.Message(text).arguments
                assert named <= EVERY[each.msgctxt].arguments | {"n"}, each.msgctxt


TRIAL = """
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

msgctxt "trial.told"
msgid "the fields of {name}"
msgstr ""

msgctxt "trial.doubtful"
msgid "a bench"
msgstr ""

msgctxt "trial.missing"
msgid "the screen"
msgstr ""

msgctxt "trial.counted"
msgid "{shown} electron"
msgid_plural "{shown} electrons"
msgstr[0] ""
msgstr[1] ""
"""
POLISH = """
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Plural-Forms: nplurals=3; plural=(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || "
"n%100>=20) ? 1 : 2);\\n"

msgctxt "trial.told"
msgid "the fields of {name}"
msgstr "pola {name}"

#, fuzzy
msgctxt "trial.doubtful"
msgid "a bench"
msgstr "ława"

msgctxt "trial.counted"
msgid "{shown} electron"
msgid_plural "{shown} electrons"
msgstr[0] "{shown} elektron"
msgstr[1] "{shown} elektrony"
msgstr[2] "{shown} elektronów"
"""


@pytest.fixture
def polish(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Language]:
    """A language with three forms of the plural, a doubtful message, and one that is missing."""
    for code, text in (("en", TRIAL), ("pl", POLISH)):
        (tmp_path / code).mkdir()
        (tmp_path / code / "trial.po").write_text(text, encoding="utf-8")
    monkeypatch.setattr(catalogue, "FOLDER", tmp_path)
    yield Language("pl")
    messages.cache_clear()
    catalogue.translations.cache_clear()


def test_a_language_says_what_it_has_and_the_rest_in_english(polish: Language) -> None:
    assert polish.say("trial.told", name="X") == "pola X"
    assert polish.say("trial.doubtful") == "a bench"
    assert polish.say("trial.missing") == "the screen"
    with speaking("pl"):
        assert say_here("trial.told", name="X") == "pola X"
    with speaking("en"):
        assert say_here("trial.told", name="X") == "the fields of X"


@pytest.mark.parametrize(("n", "form"), [(1, "elektron"), (3, "elektrony"), (5, "elektronów")])
def test_a_language_counts_by_its_own_rule(polish: Language, n: int, form: str) -> None:
    # Plural rule of Polish: Unicode CLDR, supplemental data "plurals" (one, few, many).
    assert polish.say("trial.counted", n=n, shown=str(n)) == f"{n} {form}"
    english = "electron" if n == 1 else "electrons"
    assert Language("en").say("trial.counted", n=n, shown=str(n)) == f"{n} {english}"


if __name__ == "__main__":
    SNAPSHOT.write_text(snapshot(), encoding="utf-8")
