"""Inside a kernel that serves many notebooks: what a notebook changed is put back before the next.

Runs in the kernel, never in the main process.
"""

from __future__ import annotations

import copy
import gc
import importlib
import os
import random
import sys
import warnings
from collections.abc import Callable, Iterable
from contextlib import ExitStack, suppress
from typing import Any

_Undo = Callable[[], None]

_undo: list[_Undo] = []


def prepare(modules: Iterable[str], paths: Iterable[str]) -> None:
    """Import what every notebook needs, and keep how things stand.

    Parameters
    ----------
    modules : names of modules to import; one that fails is left to fail in the notebook that needs it
    paths : folders to look for modules in, after all others
    """
    sys.path += [path for path in paths if path not in sys.path]
    for name in modules:
        with suppress(Exception):
            importlib.import_module(name)
    _undo[:] = [take() for take in (_shell, _process, _filters, _draws, _figures, _frames)]
    gc.collect()
    # What is here now is never garbage; without this every reset would walk all of it.
    gc.freeze()


def restore() -> None:
    """Put everything back as `prepare` left it."""
    for undo in _undo:
        undo()


def _shell() -> _Undo:
    from IPython.core.getipython import get_ipython  # noqa: PLC0415  only in a kernel

    shell: Any = get_ipython()
    names = dict(shell.user_ns)
    formatters = shell.display_formatter.formatters
    tables = ("type_printers", "singleton_printers", "deferred_printers")
    printers = {kind: [dict(getattr(held, name)) for name in tables] for kind, held in formatters.items()}
    enabled = {kind: held.enabled for kind, held in formatters.items()}
    callbacks = {event: list(held) for event, held in shell.events.callbacks.items()}

    def undo() -> None:
        shell.user_ns.clear()
        shell.user_ns.update(names)
        for name in ("_", "__", "___"):
            setattr(shell.displayhook, name, "")
        shell.user_ns["_oh"].clear()
        for inputs in (shell.history_manager.input_hist_parsed, shell.history_manager.input_hist_raw):
            inputs[:] = [""]
        shell.execution_count = 1
        for kind, held in formatters.items():
            held.enabled = enabled[kind]
            for name, kept in zip(tables, printers[kind], strict=True):
                now = getattr(held, name)
                now.clear()
                now.update(kept)
        for event, held in callbacks.items():
            shell.events.callbacks[event][:] = held

    return undo


def _process() -> _Undo:
    folder, path, environment = os.getcwd(), list(sys.path), dict(os.environ)  # noqa: PTH109  may be gone later

    def undo() -> None:
        os.chdir(folder)
        sys.path[:] = path
        for name in set(os.environ) - set(environment):
            del os.environ[name]
        os.environ.update(environment)

    return undo


def _filters() -> _Undo:
    held = ExitStack()
    held.enter_context(warnings.catch_warnings())

    def undo() -> None:
        held.close()
        held.enter_context(warnings.catch_warnings())

    return undo


def _draws() -> _Undo:
    import numpy as np  # noqa: PLC0415  only in a kernel

    errors, printing = np.geterr(), np.get_printoptions()
    random.seed(0)
    np.random.seed(0)  # noqa: NPY002  a notebook that draws from the global generator draws the same every time
    plain, legacy = random.getstate(), np.random.get_state()  # noqa: NPY002

    def undo() -> None:
        np.seterr(**errors)
        np.set_printoptions(**printing)
        random.setstate(plain)
        np.random.set_state(legacy)  # noqa: NPY002

    return undo


def _figures() -> _Undo:
    import matplotlib as mpl  # noqa: PLC0415  only in a kernel
    from matplotlib import pyplot as plt  # noqa: PLC0415
    from matplotlib_inline.config import InlineBackend  # noqa: PLC0415

    inline = InlineBackend.instance()
    formats, arguments = set(inline.figure_formats), copy.deepcopy(dict(inline.print_figure_kwargs))
    backend = mpl.get_backend()
    settings = copy.deepcopy({name: mpl.rcParams[name] for name in mpl.rcParams if name != "backend"})

    def undo() -> None:
        plt.close("all")
        if mpl.get_backend() != backend:
            plt.switch_backend(backend)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for name, value in settings.items():
                if mpl.rcParams[name] != value:
                    mpl.rcParams[name] = copy.deepcopy(value)
        if inline.figure_formats != formats:
            inline.figure_formats = set(formats)
        inline.print_figure_kwargs = copy.deepcopy(arguments)

    return undo


def _frames() -> _Undo:
    import pandas as pd  # noqa: PLC0415  only in a kernel

    def walk(held: Any, prefix: str) -> Iterable[str]:
        for name in dir(held):
            inner = getattr(held, name)
            if type(inner) is type(held):
                yield from walk(inner, f"{prefix}{name}.")
            else:
                yield f"{prefix}{name}"

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        options = {name: pd.get_option(name) for name in walk(pd.options, "")}

    def undo() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for name, value in options.items():
                if pd.get_option(name) != value:
                    pd.set_option(name, value)

    return undo
