"""The `lbeval` command, also as `python -m lbeval`."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line; an expected error is one line and exit code 2, never a traceback."""
    from lbeval.cli import app
    from lbeval.errors import LbevalError

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a name may hold letters that an old console cannot show
            stream.reconfigure(errors="replace")
    debug = "--debug" in sys.argv
    if debug:
        sys.argv.remove("--debug")
    try:
        app()
    except LbevalError as error:
        if debug:
            raise
        sys.stderr.write(f"{error}\n")
        sys.exit(2)
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; every file written so far is whole.\n")
        sys.exit(130)


if __name__ == "__main__":
    main()
