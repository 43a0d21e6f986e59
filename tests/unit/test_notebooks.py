"""The notebooks of the documents: kept clean, and run cell by cell in one namespace.

The format is that of Jupyter notebooks, version 4 (nbformat's documentation; from memory). What
they find: the field in the middle of a coil pair goes as the ampere-turns (D. J. Griffiths,
"Introduction to Electrodynamics", 4th ed. 2013, ex. 5.6; from memory), and CODATA's e/m.
"""

from __future__ import annotations

import ast
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
import pytest

NOTEBOOKS = sorted((Path(__file__).parents[2] / "docs" / "notebooks").glob("*.ipynb"))


def cells(notebook: Path) -> list[dict[str, Any]]:
    made = json.loads(notebook.read_text("utf-8"))
    assert (made["nbformat"], made["nbformat_minor"]) == (4, 5)
    return made["cells"]


def run(source: str, names: dict[str, Any]) -> None:
    """Run a cell, and show its last expression as a notebook does."""
    tree = ast.parse(source)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, "cell", "exec"), names)
    if isinstance(last, ast.Expr):
        shown = eval(compile(ast.Expression(last.value), "cell", "eval"), names)
        if isinstance(shown, plt.Figure):
            shown.canvas.draw()
        elif hasattr(shown, "_repr_html_"):
            assert shown._repr_html_().startswith("<")
        else:
            assert len(repr(shown)) < 1000


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_is_kept_without_what_it_printed(notebook):
    for cell in cells(notebook):
        assert cell["cell_type"] in ("markdown", "code")
        assert cell.get("outputs", []) == []
        assert cell.get("execution_count") is None
    assert notebook.stat().st_size < 20_000


def own_tube(names: dict[str, Any]) -> None:
    before, after = (
        names["glowtrace"].predict(names["tube"], names["settings"], belief=belief).height(0.09)
        for belief in (names["learnt"].before, names["learnt"].after)
    )
    # The mean of two independent readings of one thing is narrower than either.
    assert after.uncertainty < min(before.uncertainty, 0.5e-3)
    assert before.value < after.value < 0.0106


def sweep_and_design(names: dict[str, Any]) -> None:
    ampere_turns = names["turns"] * names["nulls"]
    assert ampere_turns == pytest.approx(ampere_turns[0], rel=5e-3)
    assert names["plan"].answers[0].settings.coil_current == pytest.approx(0.1, rel=0.1)


def class_of_groups(names: dict[str, Any]) -> None:
    assert names["pooled"].lying_out.tolist() == [False, False, False, True, False]
    assert names["without_d"].result.agrees
    assert np.argmin(names["values"]) == 3


CHECKS: dict[str, Callable[[dict[str, Any]], None]] = {
    "01_own_tube": own_tube,
    "02_sweep_and_design": sweep_and_design,
    "03_e_over_m_of_a_class": class_of_groups,
}


@pytest.mark.slow
@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_runs_from_top_to_bottom(notebook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {"__name__": "__main__"}
    with mpl.rc_context({"backend": "agg"}):
        plt.switch_backend("agg")
        for cell in cells(notebook):
            if cell["cell_type"] == "code":
                run("".join(cell["source"]), names)
        plt.close("all")
    CHECKS[notebook.stem](names)
