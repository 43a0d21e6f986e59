"""Kernels that cannot be kept on a full disk are used all the same.

ENOSPC is POSIX's error number for a full disk (POSIX.1-2017, errno.h).
"""

from __future__ import annotations

import errno

import pytest

from glowtrace.compiled import compiled


def double(number):
    return 2.0 * number


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES])
def test_a_full_disk_under_the_cache_is_no_failure(monkeypatch, tmp_path, number):
    asked = []

    def refuse(*_):
        asked.append(number)
        raise OSError(number, "refused")

    monkeypatch.setattr("glowtrace.compiled.kernel_cache_dir", lambda: tmp_path)
    monkeypatch.setattr("numba.core.caching.IndexDataCacheFile._open_for_write", refuse)
    assert compiled()(double)(3.0) == 6.0
    assert asked == [number]
