"""The demonstration garden, opened once for all tests that only read it."""

from functools import lru_cache
from pathlib import Path

from soiltrend import open_garden

DEMO = Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps"


@lru_cache(maxsize=1)
def demo_garden():
    """Return the demonstration garden."""
    return open_garden(DEMO)
