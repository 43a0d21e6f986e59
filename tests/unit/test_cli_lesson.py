"""The commands about lessons; no outside source but RFC 4180 for the table."""

from __future__ import annotations

import csv
import json

import pytest
from lesson_trial import LINE, PREDICT, message, open_lesson

import glowtrace.cli as cli
from glowtrace.lesson.answer import read_message
from glowtrace.store import open_store


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("GLOWTRACE_DATA", str(tmp_path))

    def call(*arguments: str) -> tuple[int, str]:
        code = cli.run(list(arguments))
        captured = capsys.readouterr()
        return code, captured.out + captured.err

    return call


@pytest.fixture
def kept(run, tmp_path) -> str:
    import asyncio

    async def fill(live) -> None:
        await live.take(read_message(message(nickname="=1+1")))

    with open_store(tmp_path / "glowtrace.sqlite") as store:
        live = open_lesson(store)
        live.ask(PREDICT)
        asyncio.run(fill(live))
        live.close()
        live.end()
        return live.kept.id


def test_list_tells_how_much_a_lesson_holds(run, kept):
    code, told = run("lesson", "list", "--json")
    assert code == 0
    (lesson,) = json.loads(told)["lessons"]
    assert (lesson["lesson"], lesson["state"], lesson["answers"]) == (kept, "closed", 1)


def test_export_has_everything_and_no_code(run, kept, tmp_path):
    file = tmp_path / "lesson.json"
    assert run("lesson", "export", kept[:6], str(file))[0] == 0
    text = file.read_text(encoding="utf-8")
    assert "K7M2QX" not in text
    data = json.loads(text)
    assert data["questions"][0]["text"] == PREDICT.text
    assert len(data["answers"][0]["answer"]["line"]) == len(LINE)


def test_table_has_no_formula_that_a_learner_wrote(run, kept, tmp_path):
    file = tmp_path / "lesson.csv"
    assert run("lesson", "export", kept, str(file))[0] == 0
    with file.open(encoding="utf-8", newline="") as rows:
        (row,) = csv.DictReader(rows)
    assert row["nickname"] == "'=1+1"
    assert row["late"] == "no"


def test_delete_is_for_good(run, kept):
    assert run("lesson", "delete", kept)[0] == 0
    code, told = run("lesson", "export", kept, "x.json")
    assert code == 2
    assert "No lesson begins" in told


def test_one_lesson_is_open_at_a_time(run):
    code, told = run("lesson", "open", "deflection tube", "--title", "Monday")
    assert code == 0
    assert "code" in told
    code, told = run("lesson", "open", "deflection tube")
    assert code == 2
    assert "open already" in told
