"""Start of the program: the commands, and the exit code of whatever happens."""

from __future__ import annotations

import sys

from station.cli.running import exit_code_of
from station.cycle.processes import compute_in_one_thread


def main() -> None:
    """Run the command line and leave with its exit code."""
    compute_in_one_thread()
    sys.exit(exit_code_of(sys.argv[1:]))


if __name__ == "__main__":
    main()
