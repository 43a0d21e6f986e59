"""Tables as Parquet, which data frames of every kind read: needs the optional package pyarrow."""

from __future__ import annotations

import io
from collections.abc import Mapping
from importlib import import_module
from typing import Any

from numpy.typing import NDArray

from glowtrace.errors import MissingPackageError


def parquet_bytes(columns: Mapping[str, NDArray[Any]]) -> bytes:
    """Give columns as the content of a Parquet file."""
    content = io.BytesIO()
    pyarrow_module("parquet").write_table(pyarrow_module("").table(dict(columns)), content)
    return content.getvalue()


def pyarrow_module(name: str) -> Any:
    """Give a module of pyarrow, or say how to get it."""
    try:
        return import_module(f"pyarrow.{name}" if name else "pyarrow")
    except ImportError as error:
        raise MissingPackageError("Parquet files", "pyarrow", "studies") from error
