"""What went in, what came out, what the test did: the account of a garden."""

from soiltrend.budget.card import BedCard, bed_card
from soiltrend.budget.core import NUTRIENTS, Budget, budget

__all__ = ["NUTRIENTS", "BedCard", "Budget", "bed_card", "budget"]
