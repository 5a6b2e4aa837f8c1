"""Kernels are kept, and nothing of one notebook reaches the next."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Iterator

import pytest

from lbeval.errors import ReportError
from lbeval.render.execute import KernelPool, _transport, execute
from tests.render.notebooks import notebook_of, said

LEAK = """
import builtins, os, random, sys, warnings
import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from IPython import get_ipython
from IPython.display import display
from matplotlib_inline.backend_inline import set_matplotlib_formats

leaked = "Ana"
mpl.rcParams["axes.facecolor"] = "red"
mpl.rcParams["font.family"].append("Leaked")
plt.switch_backend("svg")
plt.figure()
set_matplotlib_formats("svg")
pd.set_option("display.max_rows", 3)
pd.options.display.precision = 1
np.set_printoptions(precision=1)
np.seterr(all="raise")
random.seed(99); np.random.seed(99)
warnings.simplefilter("ignore")
os.environ["LEAKED"] = "1"
os.environ["PYTHONHASHSEED"] = "7"
os.chdir("/")
sys.path.insert(0, "/leaked")
sys.path.append("/leaked")
shell = get_ipython()
shell.display_formatter.formatters["text/plain"].for_type(int, lambda n, p, c: p.text("leaked"))
shell.events.register("post_run_cell", lambda result: print("leaked"))
"leaked"
"""

STATE = """
import os, random, sys, warnings
import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib_inline.config import InlineBackend
print(sorted(name for name in globals() if not name.startswith("_")))
print(_, __, ___, Out, len(In))
print(mpl.get_backend(), dict(mpl.rcParams), plt.get_fignums(), InlineBackend.instance().figure_formats)
print(pd.describe_option("", _print_desc=False))
print(np.get_printoptions(), np.geterr(), random.random(), np.random.random())
print(warnings.filters)
print(dict(os.environ), os.getcwd(), sys.path)
"""


@pytest.fixture(scope="module")
def pool() -> Iterator[KernelPool]:
    with KernelPool(1, imports=("pandas", "matplotlib.pyplot")) as held:
        yield held


def test_nothing_of_one_notebook_reaches_the_next(pool: KernelPool) -> None:
    before = said(pool.run(notebook_of(STATE, "1"), {}))
    pool.run(notebook_of(LEAK, LEAK), {"name": "leaked"})
    after = said(pool.run(notebook_of(STATE, "1"), {}))

    assert before == after
    assert "leaked" not in after
    assert "Leaked" not in after


def test_nothing_is_left_after_a_failure_either(pool: KernelPool) -> None:
    before = said(pool.run(notebook_of(STATE), {}))
    with pytest.raises(ReportError, match="cell 3 stopped with ZeroDivisionError: division by zero"):
        pool.run(notebook_of(LEAK, "1 / 0"), {})

    assert said(pool.run(notebook_of(STATE), {})) == before


def test_imports_happen_once(pool: KernelPool) -> None:
    source = "import sys, os; print('pandas' in sys.modules, os.getpid())"
    first, second = (said(pool.run(notebook_of(source), {})) for _ in range(2))

    assert first == second
    assert first.startswith("True")


def test_the_given_notebook_is_not_changed(pool: KernelPool) -> None:
    book = notebook_of("print(name)")
    done = execute(book, {"name": "Ana"}, pool)

    assert said(done) == "Ana\n"
    assert said(book) == ""
    assert len(book.cells) == 2


def test_the_kernel_is_this_interpreter_with_one_thread_and_no_users_start_up(pool: KernelPool) -> None:
    names = "os.environ['OPENBLAS_NUM_THREADS'], os.environ['IPYTHONDIR']"
    source = f"import os, sys; print(sys.executable, {names})"
    executable, threads, folder = said(pool.run(notebook_of(source), {})).split()

    assert executable == sys.executable
    assert threads == "1"
    assert "lbeval-kernels" in folder


def test_a_kernel_that_dies_is_said_and_replaced(pool: KernelPool) -> None:
    with pytest.raises(ReportError, match="the notebook process stopped"):
        pool.run(notebook_of("import os; os._exit(1)"), {})

    assert said(pool.run(notebook_of("print('back')"), {})) == "back\n"


def test_a_kernel_that_died_while_it_waited_is_replaced(pool: KernelPool) -> None:
    number = int(said(pool.run(notebook_of("import os; print(os.getpid())"), {})))
    os.kill(number, signal.SIGKILL if os.name == "posix" else signal.SIGTERM)
    while pool._kernels[0]._manager.provisioner.process.poll() is None:
        time.sleep(0.01)

    assert said(pool.run(notebook_of("print('back')"), {})) == "back\n"


def test_a_pool_left_in_the_middle_of_a_run_leaves_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    with KernelPool(1, imports=()) as held:
        folder = held._folder
        process = held._kernels[0]._manager.provisioner.process
        running = [held.submit(notebook_of("while True: pass"), {}) for _ in range(3)]
        time.sleep(0.5)

    assert all(future.done() for future in running)
    assert process.poll() is not None
    assert folder is not None
    assert not folder.exists()
    assert capfd.readouterr().err == ""


def test_a_cell_that_never_ends_is_stopped(pool: KernelPool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lbeval.render.execute.CELL_SECONDS", 1)
    with pytest.raises(ReportError, match="took longer than 1 seconds"):
        pool.run(notebook_of("while True: pass"), {})
    monkeypatch.undo()

    assert said(pool.run(notebook_of("print('back')"), {})) == "back\n"


def test_a_pool_that_is_closed_says_so() -> None:
    with pytest.raises(ReportError, match="not running"):
        KernelPool(1).run(notebook_of(), {})


@pytest.mark.skipif(os.name != "posix", reason="sockets as files")
def test_a_path_too_long_for_a_socket_goes_another_way(tmp_path_factory: pytest.TempPathFactory) -> None:
    long = tmp_path_factory.mktemp("x" * 120)

    assert _transport(long) == "tcp"
    assert _transport(long.parent.parent.parent) == "ipc"
