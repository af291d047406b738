"""What is handed round and shown: a page that prints, and slides that need no internet."""

from soiltrend.handouts.page import handout
from soiltrend.handouts.show import slides

__all__ = ["handout", "slides"]
