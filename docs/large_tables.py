"""Computed columns over a Parquet archive that is larger than memory. The page large-tables.md tells about it.

    python docs/large_tables.py generate ARCHIVE --rows 10000000
    python docs/large_tables.py polars ARCHIVE RESULT
    python docs/large_tables.py dask ARCHIVE RESULT

The archive is invented: hop additions drawn at random, some without a mass, some with a mistake in them.
"""

import argparse
import time
from pathlib import Path

import numpy
import polars

from brewfuncs.tables import evaluate_table

ROWS_A_FILE = 1_000_000
FORMULAS = {
    "ibu": "=HOP_BITTERNESS([mass],[alpha],[minutes],[volume],[gravity],[method])",
    "plato": "=WORT_PLATO([gravity])",
    "mass_at_30": '=HOP_SWAP_MASS([mass],[minutes],30,"kinetic")',
    "early_ibu": "=IF([minutes]>=45,[ibu],0)",
}


def generate(archive: Path, rows: int) -> None:
    """Hop additions, a million a file."""
    archive.mkdir(parents=True)
    random = numpy.random.default_rng(2026)
    for number, start in enumerate(range(0, rows, ROWS_A_FILE)):
        count = min(ROWS_A_FILE, rows - start)
        mass = random.uniform(5, 60, count)
        minutes = random.choice([5.0, 10, 15, 20, 30, 45, 60, 75, 90, 600], count, p=[0.1] * 8 + [0.1999, 0.0001])
        frame = polars.DataFrame(
            {
                "batch": numpy.arange(start, start + count) // 4,
                "hop": random.choice(["Ostrane", "Velmark", "Tarrow", "Orlowen"], count),
                "mass": mass,
                "alpha": random.uniform(0.03, 0.15, count),
                "minutes": minutes,  # one in ten thousand boils for ten hours: a slip of the pen
                "volume": random.uniform(15, 60, count),
                "gravity": random.uniform(1.035, 1.085, count),
                "method": random.choice(["tinseth", "rager smooth", "kinetic"], count),
            }
        ).with_columns(polars.when(polars.col("mass") > 5.05).then("mass"))  # one in a thousand wasn't weighed
        frame.write_parquet(archive / f"additions-{number:04}.parquet", row_group_size=100_000)


def with_polars(archive: Path, result: Path) -> None:
    """One machine: a batch at a time is read, worked out and written."""
    additions = polars.scan_parquet(archive)
    schema = {**additions.collect_schema(), **dict.fromkeys(FORMULAS, polars.Float64)}
    additions.map_batches(lambda batch: evaluate_table(batch, FORMULAS), schema=schema, streamable=True).sink_parquet(
        result
    )


def with_dask(archive: Path, result: Path) -> None:
    """Several machines, once a dask.distributed.Client is connected; without one, this machine."""
    from dask import dataframe

    additions = dataframe.read_parquet(archive)
    additions.map_partitions(evaluate_table, FORMULAS).to_parquet(result)


def megabytes() -> float:
    """The most memory this process has held."""
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    generating = commands.add_parser("generate")
    generating.add_argument("archive", type=Path)
    generating.add_argument("--rows", type=int, default=10_000_000)
    for name in ("polars", "dask"):
        computing = commands.add_parser(name)
        computing.add_argument("archive", type=Path)
        computing.add_argument("result", type=Path)
    given = parser.parse_args()
    if given.command == "generate":
        generate(given.archive, given.rows)
        return
    start = time.perf_counter()
    {"polars": with_polars, "dask": with_dask}[given.command](given.archive, given.result)
    seconds = time.perf_counter() - start
    made = (
        polars.scan_parquet(given.result).select(polars.len(), polars.col("ibu").null_count().alias("empty")).collect()
    )
    rows, empty = made.row(0)
    print(f"{rows} rows in {seconds:.1f} s, {rows / seconds / 1e6:.2f} million a second, at most {megabytes():.0f} MB")
    print(f"{empty} rows have no bitterness: a mass is missing, or the boil is out of range")


if __name__ == "__main__":
    main()
