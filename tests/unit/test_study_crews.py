"""Studies on processes and on Dask: the same rows everywhere, and none lost to kill -9."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from glowtrace import GlowtraceError, Settings, ready_made
from glowtrace.studies import Around, Study, run_study
from glowtrace.studies import crews as crews_module
from glowtrace.studies.rows import compute_rows
from glowtrace.version import __version__

distributed = pytest.importorskip("distributed")

PROGRAM = """
from test_study_crews import study
from glowtrace.studies import run_study
import sys
if __name__ == "__main__":
    run_study(study(int(sys.argv[2])), sys.argv[1], workers=2)
"""


GAP = {"plates.gap": Around(0.049, 0.0005)}


def study(rows, **numbers):
    return Study(
        bench=ready_made("deflection tube"),
        settings=Settings(accelerating_voltage=3000.0),
        vary={"plate_voltage": Around(500.0, 20.0), "slack.beam_rise": Around(0.0, 0.005)}
        | numbers,
        rows=rows,
        electrons=100,
        at=0.06,
    )


def same_rows(kept, rows, **numbers):
    names = ("row", "height_m", "width_m", "plate_voltage_v", "kind")
    found = kept.read(names)
    wanted = compute_rows(study(rows, **numbers), range(rows), __version__)
    if not numbers:
        return all(found[name].tolist() == wanted[name].tolist() for name in names)
    # A process that has just compiled a kernel rounds otherwise than one that loads it.
    near = (np.allclose(found[name], wanted[name], rtol=1e-11, atol=0.0) for name in names[:-1])
    return all(near) and found["kind"].tolist() == wanted["kind"].tolist()


@pytest.mark.slow
def test_rows_are_the_same_on_processes_and_on_a_cluster(tmp_path):
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None,
        scheduler_port=0,
    ) as cluster, distributed.Client(cluster) as client:  # fmt: skip
        kept = run_study(study(40), tmp_path / "client", cluster=client)
        assert same_rows(kept, 40)
        assert client.status == "running"
        kept = run_study(study(3, **GAP), tmp_path / "address", cluster=cluster.scheduler_address)
        assert same_rows(kept, 3, **GAP)
    kept = run_study(study(40), tmp_path / "processes", workers=2)
    assert same_rows(kept, 40)
    kept = run_study(study(3, **GAP), tmp_path / "benches", workers=2)
    assert same_rows(kept, 3, **GAP)


@pytest.mark.thorough
def test_killed_at_any_moment_no_row_is_lost_or_double(tmp_path):
    rows, folder = 1200, tmp_path / "rows"
    (tmp_path / "program.py").write_text(PROGRAM)
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join([*sys.path, str(Path(__file__).parent)])
    }
    program = subprocess.Popen(
        [sys.executable, tmp_path / "program.py", folder, str(rows)], env=environment
    )
    while not list(folder.glob("rows/rows-*.parquet")) and program.poll() is None:
        time.sleep(0.02)
    children = _children(program.pid)
    program.send_signal(signal.SIGKILL)
    program.wait()
    for _ in range(500):
        if not any(map(_runs, children)):
            break
        time.sleep(0.02)
    assert not any(map(_runs, children)), "its processes end with it"
    there = set(folder.glob("rows/rows-*.parquet"))
    assert there
    before = {path: path.stat().st_mtime_ns for path in there}
    kept = run_study(study(rows), folder, workers=2)
    assert kept.read(("row",))["row"].tolist() == list(range(rows))
    assert {path: path.stat().st_mtime_ns for path in there} == before


def _children(pid):
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True
    ).stdout
    return [int(each) for each in listed.split()]


def _runs(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_a_cluster_that_does_not_answer_is_named(monkeypatch, tmp_path):
    monkeypatch.setattr(crews_module, "_CONNECT_S", 0.3)
    with pytest.raises(GlowtraceError, match=r"nothing answers at tcp://127.0.0.1:9.*give the"):
        crews_module.DaskWorkers("tcp://127.0.0.1:9")
    with pytest.raises(GlowtraceError, match="nothing answers at nowhere"):
        crews_module.DaskWorkers("nowhere:::")


class Told:
    """A client that tells the versions of its workers."""

    def __init__(self, versions):
        self.versions = versions

    def run(self, function):
        return self.versions


def test_another_version_is_refused_with_both():
    versions = {"tcp://a:1": __version__, "tcp://b:1": "0.0.1"}
    with pytest.raises(GlowtraceError, match=f"tcp://b:1 has Glowtrace 0.0.1.* {__version__}"):
        crews_module.DaskWorkers(Told(versions))
    with pytest.raises(GlowtraceError, match="none of its workers"):
        crews_module.DaskWorkers(Told({}))
