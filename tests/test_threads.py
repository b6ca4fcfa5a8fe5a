# SPDX-License-Identifier: GPL-2.0-or-later
"""One thread of linear algebra while results are computed, and as many as before afterwards."""

import subprocess
import sys
from pathlib import Path
from threading import Barrier, Thread

import pytest
import scipy.linalg  # noqa: F401 - loads the libraries
from roomtie.processing import threads
from threadpoolctl import threadpool_info, threadpool_limits

ROOT = Path(threads.__file__).resolve().parents[1]


def counts() -> set[int]:
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


@pytest.fixture
def two():
    """Two threads, as on a machine where nobody asked for one."""
    with threadpool_limits(limits=2, user_api="blas"):
        if counts() != {2}:
            pytest.skip(f"the linear algebra libraries here know {counts() or 'no'} threads")
        yield


def test_one_inside_and_as_many_as_before_outside(two):
    with threads.one_thread():
        assert counts() == {1}
        with threads.one_thread():
            assert counts() == {1}
        assert counts() == {1}
    assert counts() == {2}


def test_an_error_gives_them_back(two):
    with pytest.raises(ValueError, match="inside"), threads.one_thread():
        raise ValueError("inside")
    assert counts() == {2}


def test_two_that_overlap_give_them_back_when_both_have_gone(two):
    both, first_left = Barrier(2), Barrier(2)
    seen = []

    def first():
        with threads.one_thread():
            both.wait()
        first_left.wait()

    def second():
        with threads.one_thread():
            both.wait()
            first_left.wait()
            seen.append(counts())

    runs = [Thread(target=first), Thread(target=second)]
    for run in runs:
        run.start()
    for run in runs:
        run.join(timeout=60)
    assert seen == [{1}]
    assert counts() == {2}


def test_without_the_package_they_stay_as_they_are(monkeypatch, tmp_path):
    monkeypatch.setattr(threads, "BUNDLED", tmp_path / "absent.py")
    monkeypatch.setitem(sys.modules, "threadpoolctl", None)
    threads._threadpoolctl.cache_clear()
    before = counts()
    with threads.one_thread():
        assert counts() == before
    monkeypatch.undo()
    threads._threadpoolctl.cache_clear()


def test_the_bundled_package_is_used_where_none_is_installed(tmp_path):
    """In a process of its own: the copy that a release carries."""
    import threadpoolctl

    program = f"""
import importlib.util, sys
from pathlib import Path
spec = importlib.util.spec_from_file_location("roomtie", {str(ROOT / "__init__.py")!r},
                                              submodule_search_locations=[{str(ROOT)!r}])
package = importlib.util.module_from_spec(spec)
sys.modules["roomtie"] = package
spec.loader.exec_module(package)
sys.modules["threadpoolctl"] = None
from roomtie.processing import threads
threads.BUNDLED = Path({str(Path(threadpoolctl.__file__).resolve())!r})
control = threads._threadpoolctl()
with threads.one_thread():
    print({{one["num_threads"] for one in control.threadpool_info() if one["user_api"] == "blas"}})
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd="/")
    # The reference library knows no threads, and tells none.
    assert done.stdout.strip() == ("{1}" if counts() else "set()"), done.stderr
