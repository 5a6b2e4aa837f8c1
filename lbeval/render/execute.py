"""Notebooks run in kernels that are kept: imports happen once, and nothing of one run reaches the next."""

from __future__ import annotations

import asyncio
import concurrent.futures
import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Coroutine, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
from nbformat import NotebookNode

import lbeval
from lbeval.errors import ReportError
from lbeval.render.parameters import Parameters, read_notebook, with_parameters

WARM_IMPORTS = (
    "numpy",
    "pandas",
    "pyarrow.parquet",
    "matplotlib.pyplot",
    "IPython.display",
    "lbeval.report.style",
    "lbeval.report.tables",
    "lbeval.report.markdown",
    "lbeval.report.player",
)
CELL_SECONDS = 300
START_SECONDS = 120

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
_NAME = "lbeval"
_LONGEST_SOCKET = 90
_HOME = str(Path(lbeval.__file__).resolve().parent.parent)
_T = TypeVar("_T")


class _OwnInterpreter(KernelSpecManager):
    """The kernel is the interpreter that runs now, whatever kernels the machine knows."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        argv = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
        argv += ["--HistoryManager.enabled=False"]
        return KernelSpec(argv=argv, display_name=kernel_name, language="python", env={})


class Kernel:
    """One warm kernel; started, used and stopped on the pool's event loop."""

    def __init__(self, folder: Path, name: str, imports: Sequence[str]) -> None:
        self._folder = folder
        self._name = name
        self._imports = tuple(imports)
        self._manager: Any = None
        self._client: Any = None

    async def start(self) -> None:
        """Start the process and bring it to the state every notebook begins in."""
        self._manager = AsyncKernelManager(
            kernel_name=_NAME,
            kernel_spec_manager=_OwnInterpreter(),
            connection_file=str(self._folder / f"{self._name}.json"),
            transport=_transport(self._folder),
        )
        # What a kernel says outside its cells is for nobody: start-up notes, or the last words of a crash.
        silent = subprocess.DEVNULL
        await self._manager.start_kernel(
            cwd=str(self._folder), env=_environment(self._folder), stdout=silent, stderr=silent,
        )  # fmt: skip
        self._client = self._manager.client()
        self._client.start_channels()
        try:
            await self._client.wait_for_ready(timeout=START_SECONDS)
        except RuntimeError as error:
            await self.stop()
            raise ReportError(f"The notebook process did not start: {error}") from error
        await self._run(f"prepare({list(self._imports)!r}, [{_HOME!r}])")

    async def stop(self) -> None:
        """Stop the process at once; a notebook keeps nothing that would be lost."""
        if self._client is not None:
            self._client.stop_channels()
        if self._manager is not None:
            with contextlib.suppress(Exception):
                await self._manager.shutdown_kernel(now=True)
        self._manager = self._client = None

    async def execute(self, notebook: NotebookNode, name: str) -> NotebookNode:
        """Run the cells; see `KernelPool.run`."""
        if self._manager is None or not await self._manager.is_alive():
            await self.stop()
            await self.start()
        client = NotebookClient(
            notebook,
            km=self._manager,
            timeout=CELL_SECONDS,
            record_timing=False,
            store_widget_state=False,
            raise_on_iopub_timeout=True,
            iopub_timeout=CELL_SECONDS,
        )
        client.kc = self._client
        try:
            done = await client.async_execute()
        except CellExecutionError as error:
            await self._run("restore()")
            raise ReportError(f"{name}: {_failed(notebook, error)}") from error
        except Exception as error:
            await self.stop()
            raise ReportError(f"{name}: {_stopped(error)}") from error
        await self._run("restore()")
        return done

    async def _run(self, call: str) -> None:
        code = f"__import__('lbeval.render.warm', fromlist=['warm']).{call}"
        try:
            reply = await self._client.execute_interactive(
                code, silent=True, store_history=False, allow_stdin=False, timeout=START_SECONDS,
                output_hook=lambda _: None,
            )  # fmt: skip
        except (TimeoutError, RuntimeError) as error:
            await self.stop()
            raise ReportError(f"The notebook process does not answer: {error}") from error
        if reply["content"]["status"] != "ok":
            await self.stop()
            raise ReportError(f"The notebook process could not be prepared: {reply['content'].get('evalue')}")


class KernelPool:
    """Warm kernels, one a core; a context manager.

    Parameters
    ----------
    size : number of kernels; by default one a core that may be used
    imports : modules imported once in every kernel
    """

    def __init__(self, size: int | None = None, *, imports: Sequence[str] = WARM_IMPORTS) -> None:
        self.size = max(1, size if size is not None else cores())
        self._imports = tuple(imports)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread: threading.Thread | None = None
        self._free: asyncio.Queue[Kernel] | None = None
        self._kernels: list[Kernel] = []
        self._folder: Path | None = None

    def __enter__(self) -> Self:
        self._folder = Path(tempfile.mkdtemp(prefix="lbeval-kernels-"))
        # A loop of its own on a thread of its own: works inside Jupyter too, where one runs already; the
        # selector loop because the sockets of the kernels need it on Windows.
        self._loop = asyncio.SelectorEventLoop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="lbeval-kernels", daemon=True)
        self._thread.start()
        try:
            self._submit(self._start()).result()
        except BaseException:
            self._close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self._close()

    def run(self, notebook: Path | NotebookNode, parameters: Parameters) -> NotebookNode:
        """Execute a notebook in the next free kernel and wait for it.

        Parameters
        ----------
        notebook : path of a notebook, or one that was read; it is not changed
        parameters : values for names that the notebook's cell tagged `parameters` assigns

        Returns
        -------
        NotebookNode
            The executed notebook.

        Raises
        ------
        ReportError
            If it cannot be read, a parameter is unknown, a cell fails or takes too long, or the kernel dies;
            the pool stays usable.
        """
        return self.submit(notebook, parameters).result()

    def submit(
        self, notebook: Path | NotebookNode, parameters: Parameters,
    ) -> concurrent.futures.Future[NotebookNode]:  # fmt: skip
        """Execute a notebook without waiting; see `run`."""
        return self._submit(self._execute(notebook, parameters))

    async def _start(self) -> None:
        self._free = asyncio.Queue()
        folder = self._folder or Path()
        self._kernels = [Kernel(folder, f"k{number}", self._imports) for number in range(self.size)]
        await asyncio.gather(*(kernel.start() for kernel in self._kernels))
        for kernel in self._kernels:
            self._free.put_nowait(kernel)

    async def _stop(self) -> None:
        waiting = asyncio.all_tasks() - {asyncio.current_task()}
        for task in waiting:
            task.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)
        await asyncio.gather(*(kernel.stop() for kernel in self._kernels))

    async def _execute(self, notebook: Path | NotebookNode, parameters: Parameters) -> NotebookNode:
        name = notebook.name if isinstance(notebook, Path) else "notebook"
        filled = with_parameters(read_notebook(notebook), parameters, name)
        if self._free is None:
            raise ReportError("The notebook processes are not running.")
        kernel = await self._free.get()
        try:
            return await kernel.execute(filled, name)
        finally:
            self._free.put_nowait(kernel)

    def _submit(self, work: Coroutine[Any, Any, _T]) -> concurrent.futures.Future[_T]:
        if self._loop is None or self._loop.is_closed():
            work.close()
            raise ReportError("The notebook processes are not running.")
        return asyncio.run_coroutine_threadsafe(work, self._loop)

    def _close(self) -> None:
        if self._loop is None or self._thread is None:
            return
        with contextlib.suppress(Exception):
            self._submit(self._stop()).result(timeout=START_SECONDS)
        self._kernels = []
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
        self._loop = self._thread = self._free = self._folder = None


def execute(notebook: Path | NotebookNode, parameters: Parameters, pool: KernelPool) -> NotebookNode:
    """Execute a notebook in a pool's kernel; see `KernelPool.run`."""
    return pool.run(notebook, parameters)


def _environment(folder: Path) -> dict[str, str]:
    return {
        **os.environ,
        **dict.fromkeys(_ONE_THREAD, "1"),
        "PYTHONHASHSEED": "0",
        "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        # The user's start-up files must not change what is printed.
        "IPYTHONDIR": str(folder / "ipython"),
        "MPLBACKEND": "module://matplotlib_inline.backend_inline",
    }


def _transport(folder: Path) -> str:
    # Files nobody else may open, where the system has them; the path of one may not exceed 104 characters.
    return "ipc" if os.name == "posix" and len(str(folder)) < _LONGEST_SOCKET else "tcp"


def cores() -> int:
    """Return how many cores this process may use."""
    with contextlib.suppress(AttributeError, OSError):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _failed(notebook: NotebookNode, error: CellExecutionError) -> str:
    number = next(
        (i for i, cell in enumerate(notebook.cells, start=1) if _has_error(cell)), None,
    )  # fmt: skip
    where = f"cell {number}" if number else "a cell"
    return f"{where} stopped with {error.ename}: {error.evalue}"


def _has_error(cell: NotebookNode) -> bool:
    return any(output.get("output_type") == "error" for output in cell.get("outputs", ()))


def _stopped(error: Exception) -> str:
    if isinstance(error, CellTimeoutError):
        return f"a cell took longer than {CELL_SECONDS} seconds and was stopped."
    if isinstance(error, DeadKernelError):
        return "the notebook process stopped while it ran, most likely for want of memory. Run again."
    return f"the notebook process could not run it: {error or type(error).__name__}"
