"""How far a long command is, on the error stream."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

TENTHS = 10  # how often progress is told where no bar can be drawn


@contextmanager
def progress_told(label: str, out: Path | None) -> Iterator[Callable[[int, int], None]]:
    """Hold what shows progress on the error stream; when stopped, say how to go on.

    `label` begins with what is counted, such as "units tested".
    """
    so_far = 0
    counted, _, _ = label.partition(" ")
    with click.progressbar(
        label=label, length=1, file=sys.stderr, hidden=not sys.stderr.isatty()
    ) as bar:

        def tell(done: int, every: int) -> None:
            nonlocal so_far
            bar.length = every
            bar.update(done - so_far)
            if bar.hidden and (TENTHS * done) // every > (TENTHS * so_far) // every:
                click.echo(f"{label}: {done} of {every}", err=True)
            so_far = done

        try:
            yield tell
        except KeyboardInterrupt:
            if out is not None:
                click.echo(
                    f"\n{so_far} {counted} are kept in {out}. The same command goes on from there.",
                    err=True,
                )
            raise
