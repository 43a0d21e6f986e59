"""The command line as a program of its own: quick help, stopping, odd terminals and pipes.

Exit codes: 2 for wrong use (common practice of Unix programs, no source), 130 after Ctrl + C
(128 + the number of SIGINT: POSIX.1-2017, Shell, 2.8.2).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys

PROGRAM = (sys.executable, "-c", "from glowtrace.cli import main; main()")


def program(*arguments: str | bytes, **options) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [*PROGRAM, *arguments], capture_output=True, text=True, check=False, timeout=60, **options
    )
    assert "Traceback" not in done.stderr
    return done


def test_help_is_quick_because_nothing_heavy_is_loaded():
    code = (
        "import sys; from glowtrace.cli import run; run(['--help']); "
        "[run([name, '--help']) for name in ('trace', 'plan', 'outcomes', 'measure', 'sheet')];"
        "heavy = {'numpy', 'scipy', 'numba', 'matplotlib', 'sqlalchemy', 'nicegui',"
        " 'pint', 'rich'};"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_stopping_with_ctrl_c_is_one_line_and_130():
    code = (
        # A shell that runs the tests in the background has its children ignore Ctrl + C.
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "import glowtrace.cli, glowtrace.cli.bench as b, time\n"
        "def slow(_):\n    print('running', flush=True)\n    time.sleep(90)\n"
        "b.find_bench = slow\n"
        "import sys; sys.argv = ['glowtrace', 'bench', 'check', 'x']\n"
        "glowtrace.cli.main()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout.readline() == "running\n"
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err == "glowtrace: stopped\n"


def test_exit_code_and_message_of_the_real_program():
    done = program("bench", "check", "nowhere.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert "nowhere.toml" in done.stderr


def test_terminal_without_the_letters_is_no_crash():
    ascii_only = os.environ | {"PYTHONIOENCODING": "ascii"}
    done = program("bench", "show", "deflection tube", env=ascii_only)
    assert done.returncode == 0
    assert "the gun is rated 4.8 kV" in done.stdout


def test_arguments_that_are_no_text_are_refused():
    for arguments in (("bench", "check", b"\xff.toml"), ("trace", b"\xff"), (b"\xff",)):
        assert program(*arguments).returncode == 2


def test_reader_that_goes_away_is_no_crash():
    # As in: glowtrace bench list --json | head -1
    read_end, write_end = os.pipe()
    os.close(read_end)
    command = [*PROGRAM, "bench", "list", "--json"]
    done = subprocess.run(command, stdout=write_end, stderr=subprocess.PIPE, text=True, check=False)
    os.close(write_end)
    assert "Traceback" not in done.stderr
