"""Makes `workbook/data/sobol.csv` again, where a standard line of the margin budget was added: run this module."""

from __future__ import annotations

import numpy as np
from scipy.stats import qmc

from workbook.sizing.budget import MOST_DRAWS
from workbook.sizing.budget_lines import SEED, SOBOL_CSV, STANDARD_LINES


def main() -> None:
    """In units of 2^-30 the first point, then for each k what points 2^k and 2^k - 1 have apart."""
    bits = int(np.ceil(np.log2(MOST_DRAWS)))
    engine = qmc.Sobol(len(STANDARD_LINES), scramble=True, rng=np.random.default_rng(SEED))
    points = (engine.random_base2(bits) * 2**30).astype(np.uint32)
    rows = [points[0], *(points[2**k] ^ points[2**k - 1] for k in range(bits))]
    np.savetxt(SOBOL_CSV, rows, fmt="%d", delimiter=",")


if __name__ == "__main__":
    main()
