"""The one place that holds compile flags.

Every kernel is decorated with `jit` or `parallel_jit`. Both keep the compiled code on disk, let other Python
threads run meanwhile, follow numpy's rules for division (no exception, infinity or NaN instead), and keep the
order of floating-point operations as written (no fast math), so that answers do not depend on the machine's
vector width or on the number of threads.

With the environment variable NUMBA_DISABLE_JIT=1 both hand back the plain Python function, which gives the
same answers slowly.

A `parallel_jit` kernel must not be called from two Python threads at once: not every threading layer allows
it.
"""

from collections.abc import Callable
from typing import TypeVar

from numba import njit

Kernel = TypeVar("Kernel", bound=Callable[..., object])


def jit(function: Kernel) -> Kernel:
    """Compile a kernel that runs on one core."""
    return njit(cache=True, nogil=True, error_model="numpy")(function)


def parallel_jit(function: Kernel) -> Kernel:
    """Compile a kernel whose `numba.prange` loops are spread over the cores."""
    return njit(cache=True, nogil=True, error_model="numpy", parallel=True)(function)
