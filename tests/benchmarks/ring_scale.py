"""CPU time of the best ring of every stem of a wood, corners at the bark, by density.

    python tests/benchmarks/ring_scale.py [STEMS ...]

One line of JSON for each density of 200 to 1,500 stems a hectare, with a fifth of the stems at the two densest; the
compiler is warmed first. It is checked that rings were found and that each keeps the perimeter.
"""

from __future__ import annotations

import json
import resource
import sys
import time

import numpy as np

from boscage.model.rig import RingOptions
from boscage.rigging.search import best_rings

PERIMETER_M = 18.288
DENSITIES = (200, 400, 800, 1500)


def wood(count: int, per_ha: float, seed: int = 7) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    side = (count / per_ha * 1e4) ** 0.5
    return rng.uniform(0, side, (count, 2)), rng.uniform(0.06, 0.25, count)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    options = RingOptions(perimeter_m=PERIMETER_M)
    best_rings(*wood(2000, 400), options)
    for per_ha in DENSITIES:
        stems = count if per_ha <= 400 else count // 5
        points, radii = wood(stems, per_ha)
        cpu, wall = time.process_time(), time.perf_counter()
        found = best_rings(points, radii, options)
        cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
        has = found.contacts > 0
        assert has.any()
        assert (found.perimeter_m[has] <= PERIMETER_M * (1 + 1e-9)).all()
        assert (found.perimeter_m[has] >= 0.9 * PERIMETER_M * (1 - 1e-9)).all()
        row = {
            "per_ha": per_ha, "stems": stems, "cpu_s": round(cpu, 2), "wall_s": round(wall, 2),
            "us_a_stem": round(1e6 * cpu / stems, 1), "with_ring": round(float(has.mean()), 3),
            "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
        }  # fmt: skip
        print(json.dumps(row), flush=True)


if __name__ == "__main__":
    main()
