"""Runs of which a damaged row was found before the whole one: the rows that fit together.

A page may be there twice, once damaged. Child rows prove themselves only together with their run,
so where a run does not hold, other images of its rows are tried, and leaving out rows that a
damage has made its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, islice

from station.records.chains.chain import RUNS, run_hash
from station.records.damaged.pagescan import Pages, Value, rows_in
from station.records.damaged.tableshapes import TableShape
from station.records.database.schema import CHILD_TABLES
from station.records.rows.runs import RunRows

MOST_TRIALS = 2000  # for one run
MOST_CHANGES = 2  # rows of one run that were found damaged first

Place = tuple[str, int]  # table, position
Row = Mapping[str, Value]
Variants = dict[Place, list[Row]]


def whole_runs(
    pages: Pages, shapes: Sequence[TableShape], seqs: frozenset[int]
) -> Iterator[RunRows]:
    """Yield the runs of these numbers for which rows are found that fit together."""
    for variants in variants_of(pages, shapes, seqs).values():
        rows = fitting(variants)
        if rows is not None:
            yield rows


def variants_of(
    pages: Pages, shapes: Sequence[TableShape], seqs: frozenset[int]
) -> dict[int, Variants]:
    """Return every different row that is found for each of these runs."""
    found: dict[int, Variants] = {}
    ours = [shape for shape in shapes if shape.name in (RUNS, *CHILD_TABLES)]
    for number, values in rows_in(pages):
        for shape in ours:
            row = shape.row_of(number, values)
            if row is None:
                continue
            seq = row["seq" if shape.name == RUNS else "run"]
            if isinstance(seq, int) and seq in seqs:
                position = row.get("position", 0)
                assert isinstance(position, int)
                rows = found.setdefault(seq, {}).setdefault((shape.name, position), [])
                if row not in rows:
                    rows.append(row)
            break
    return found


def fitting(variants: Variants) -> RunRows | None:
    """Return the rows of a run that its hash holds for, None if there are none."""
    for choice in islice(choices(variants), MOST_TRIALS):
        rows = together(choice)
        if rows is not None and run_hash(rows) == rows.run["hash"]:
            return rows
    return None


def choices(variants: Variants) -> Iterator[dict[Place, Row | None]]:
    """Yield the first rows found, then with one and two of them exchanged or left out."""
    first: dict[Place, Row | None] = {place: rows[0] for place, rows in variants.items()}
    others = [
        (place, other)
        for place, rows in variants.items()
        for other in (*rows[1:], *([] if place[0] == RUNS else [None]))
    ]
    for count in range(MOST_CHANGES + 1):
        for changes in combinations(others, count):
            yield {**first, **dict(changes)}


def together(choice: Mapping[Place, Row | None]) -> RunRows | None:
    """Return chosen rows as those of a run, None without the run's own."""
    run = choice.get((RUNS, 0))
    if run is None:
        return None

    def children(table: str) -> tuple[Row, ...]:
        places = sorted(place for place, row in choice.items() if place[0] == table and row)
        return tuple(row for place in places if (row := choice[place]) is not None)

    return RunRows(run, *(children(table) for table in CHILD_TABLES))
