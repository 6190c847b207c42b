"""Write the invented data sets for the mixed-model references (run once, kept as written).

invented-plants: 5 blocks x 4 treatments, 3 to 8 plants a plot with a starting size, two
plots lost. invented-small: trials of 3 x 2, 2 x 2 and 2 x 3 (blocks x treatments) with
1 to 5 plants a plot. Nothing was measured. Run: python tests/reference/make/invented_mixed.py
"""

import csv
from pathlib import Path

import numpy as np

DATA = Path(__file__).resolve().parent.parent / "data"


def season(rng, blocks, treatments, fewest, most, lost, sds):
    """Rows block, treatment, plot, plant, start, value."""
    rows = []
    block_sd, plot_sd, plant_sd = sds
    for b in range(blocks):
        of_block = rng.normal(0, block_sd)
        for t in range(treatments):
            of_plot = rng.normal(0, plot_sd)
            for plant in range(rng.integers(fewest, most + 1)):
                start = rng.normal(12, 2)
                value = 30 + 2 * t + of_block + of_plot + 0.8 * start + rng.normal(0, plant_sd)
                if (b, t) not in lost:
                    plot = f"b{b + 1}t{t + 1}"
                    rows.append(
                        [b + 1, f"t{t + 1}", plot, plant + 1, f"{start:.2f}", f"{value:.2f}"]
                    )
    return rows


def write(path, head, rows):
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows([head, *rows])


def main():
    head = ["block", "treatment", "plot", "plant", "start", "value"]
    rng = np.random.default_rng(20250317)
    plants = season(rng, 5, 4, 3, 8, {(1, 2), (4, 0)}, (2.0, 1.5, 3.0))
    write(DATA / "invented-plants" / "data.csv", head, plants)
    small = []
    for name, blocks, treatments in (("3x2", 3, 2), ("2x2", 2, 2), ("2x3", 2, 3)):
        rows = season(rng, blocks, treatments, 1, 5, set(), (2.0, 1.5, 3.0))
        small += [[name, *row] for row in rows]
    write(DATA / "invented-small" / "data.csv", ["trial", *head], small)


if __name__ == "__main__":
    main()
