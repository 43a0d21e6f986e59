"""How Sphinx makes the site; `python3 tasks.py site` builds it, without any network."""

import re
from typing import Any

from glowtrace.version import __version__

project = "Glowtrace"
author = copyright = "the Glowtrace authors"
version = release = __version__
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
exclude_patterns = ["site/**", "examples/**", "notebooks/**", "pictures/*.py"]
html_theme = "furo"
html_title = f"Glowtrace {__version__}"
html_copy_source = False
html_theme_options = {
    "dark_css_variables": {"color-brand-primary": "#5cf0c4", "color-brand-content": "#5cf0c4"},
    "light_css_variables": {"color-brand-primary": "#00664d", "color-brand-content": "#00664d"},
}
myst_heading_anchors = 3
autodoc_typehints = "none"
autodoc_member_order = "alphabetical"
napoleon_google_docstring = False
# Docstrings name other objects in plain words; files and folders beside the pages are no pages.
default_role = "literal"
suppress_warnings = ["myst.xref_missing", "myst.header", "misc.highlighting_failure"]

OUTSIDE = re.compile(r"\[([^\]]+)\]\(\.\./[^)]*\)")
"""A link out of docs/, which has no place on the site: its words stay."""
CONTENTS = """

```{toctree}
:hidden:
:caption: For the demonstration

tutorial
your-own-tube
how-well-known
studies
plan-and-prepare
find-a-fault
light
explain
handouts
lesson
camera
measure
```

```{toctree}
:hidden:
:caption: To look up

physics
command-line
bench-file
settings-file
readings-file
json
logbook-file
library
api
```

```{toctree}
:hidden:
:caption: For working on it

architecture
decisions/README
```

```{toctree}
:hidden:
:glob:

decisions/0*
*
```
"""


def _for_the_site(_app: Any, name: str, content: list[str]) -> None:
    text = OUTSIDE.sub(r"\1", content[0]).replace("](decisions/)", "](decisions/README.md)")
    content[0] = text + CONTENTS if name == "index" else text


def setup(app: Any) -> None:
    """Register the change that a page takes on its way to the site."""
    app.connect("source-read", _for_the_site)
