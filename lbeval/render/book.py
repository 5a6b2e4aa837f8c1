"""Many documents at once: notebooks executed in warm kernels, set, and written whole."""

from __future__ import annotations

import concurrent.futures
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from traitlets.config import Config

from lbeval.errors import LbevalError
from lbeval.files import slug, write_bytes_atomic
from lbeval.render.execute import KernelPool, cores
from lbeval.render.exporter import LbevalPDFExporter
from lbeval.render.parameters import Parameters

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Job:
    """One document to make.

    Parameters
    ----------
    notebook : path of the notebook
    parameters : values for its parameters
    name : what to call the file; any text, made safe, `.pdf` is added
    timestamp : seconds since 1970 for the file's properties; None takes the document's date
    """

    notebook: Path
    parameters: Parameters
    name: str
    timestamp: int | None = None


@dataclass(frozen=True)
class Outcome:
    """What became of a job: a path, or a message."""

    job: Job
    path: Path | None
    error: str | None = None


def render_documents(
    jobs: Sequence[Job],
    out_dir: Path,
    progress: Callable[[Outcome], None] | None = None,
    *,
    kernels: int | None = None,
) -> list[Outcome]:
    """Make documents; one that fails is reported and the rest goes on.

    Parameters
    ----------
    jobs : documents to make; names that would give the same file are numbered in their order
    out_dir : folder for the PDFs, made if it is not there
    progress : called after each document, in the order they are done
    kernels : notebook processes; by default one a core, never more than there are jobs

    Returns
    -------
    list of Outcome
        In the order of `jobs`.
    """
    if not jobs:
        return []
    targets = [Path(out_dir) / name for name in _file_names(jobs)]
    done: dict[int, Outcome] = {}
    with KernelPool(min(kernels or cores(), len(jobs))) as pool:
        waiting = {pool.submit(job.notebook, job.parameters): number for number, job in enumerate(jobs)}
        for future in concurrent.futures.as_completed(waiting):
            number = waiting[future]
            job, target = jobs[number], targets[number]
            try:
                notebook = future.result()
                exporter = LbevalPDFExporter(config=Config(), timestamp=job.timestamp)  # type: ignore[no-untyped-call]
                pdf, _ = exporter.from_notebook_node(notebook, {"metadata": {"name": job.name}})
                done[number] = Outcome(job, write_bytes_atomic(target, pdf))
            except LbevalError as error:
                done[number] = Outcome(job, None, str(error))
            except Exception as error:  # noqa: BLE001  a fault in one document keeps no other from being printed
                _log.debug("%s", job.name, exc_info=True)
                done[number] = Outcome(job, None, f"{job.name}: {type(error).__name__}: {error}")
            if progress is not None:
                progress(done[number])
    return [done[number] for number in range(len(jobs))]


def _file_names(jobs: Sequence[Job]) -> list[str]:
    taken: set[str] = set()
    names = []
    for job in jobs:
        stem = slug(job.name)
        name, count = stem, 1
        while name in taken:
            count += 1
            name = f"{stem}-{count}"
        taken.add(name)
        names.append(f"{name}.pdf")
    return names
