"""Kernels on all cores, called from several threads at once, where numba has its own threads only.

numba ends the process there ("Concurrent access has been detected"): its documentation, "The
threading layers", says that `workqueue` is not safe for threads.
"""

from __future__ import annotations

import os
import subprocess
import sys

PROGRAM = """
import threading
import numpy as np
from glowtrace import ready_made
from glowtrace.bench.layout import field_problem
from glowtrace.fields.coils import winding_field

windings = field_problem(ready_made("deflection tube")).windings
points = np.random.default_rng(0).uniform(-0.02, 0.02, (20_000, 3))
wanted = winding_field(windings, points)
found = []
threads = [
    threading.Thread(target=lambda: found.extend(winding_field(windings, points) for _ in range(5)))
    for _ in range(3)
]
for each in threads:
    each.start()
for each in threads:
    each.join()
print(len(found), all((each == wanted).all() for each in found))
"""


def test_threads_wait_for_one_another_on_numbas_own_threads():
    environment = os.environ | {"NUMBA_THREADING_LAYER": "workqueue", "NUMBA_NUM_THREADS": "2"}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], env=environment, capture_output=True, text=True
    )
    assert (done.stdout, done.returncode) == ("15 True\n", 0), done.stderr
