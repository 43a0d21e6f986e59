"""Build the documents as a site, in build/site; every warning is an error, nothing is fetched."""

import sys
from pathlib import Path

from sphinx.cmd.build import main

HERE = Path(__file__).resolve().parent
TARGET = HERE.parent.parent / "build" / "site"

if __name__ == "__main__":
    quiet = ["-q", "-W", "--keep-going", "-d", str(TARGET.parent / "site-cache")]
    failed = main([*quiet, "-c", str(HERE), *sys.argv[1:], str(HERE.parent), str(TARGET)])
    print(f"The site is in {TARGET}" if not failed else "The site has warnings; they stand above.")
    sys.exit(failed)
