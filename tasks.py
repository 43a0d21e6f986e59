"""The one task file of Glowtrace; it needs nothing but Python 3.11 or newer.

    python3 tasks.py                    the same as `check`
    python3 tasks.py page [ARGS]        set up what is missing, then open the page
    python3 tasks.py check              set up what is missing, then all that CI does
    python3 tasks.py check --quick      the same without browser and slow tests: two minutes
    python3 tasks.py check --full       the same with statistics over many seeds, every walk through
                                        the page, the wheel, and coverage: an hour or two
    python3 tasks.py test [ARGS]        pytest alone; the arguments go to pytest
    python3 tasks.py lint               ruff, mypy, import-linter and the documents' site alone
    python3 tasks.py docs [--check]     bring README and docs in step with the program
    python3 tasks.py site               the documents as a site, in build/site
    python3 tasks.py pictures           take the pictures of the tutorial anew (needs Chromium)
    python3 tasks.py bench [NAMES]      the benchmarks, or those named (such as beam_speed)
    python3 tasks.py lock [ARGS]        resolve the dependencies anew; --upgrade takes newer ones

Everything is installed into `.venv` in this folder, from the lock files in `requirements/`, and
only when a lock file or pyproject.toml has changed since the last time.
"""

import sys

OLDEST_PYTHON = (3, 11)
if sys.version_info < OLDEST_PYTHON:  # before anything that an older Python cannot read
    told = (OLDEST_PYTHON[0], OLDEST_PYTHON[1], sys.version_info[0], sys.version_info[1])
    sys.exit(
        "Glowtrace needs Python %d.%d or newer; this is Python %d.%d.\n" % told  # noqa: UP031
        + "Install a newer Python and start it by name, for example: python3.12 tasks.py page"
    )

if __name__ == "__main__":
    from tooling.tasks import main

    sys.exit(main(sys.argv[1:], __doc__))
