"""What went in, what came out, what the test did: the account of a garden."""

from soiltrend.budget.core import NUTRIENTS, Budget, budget

__all__ = ["NUTRIENTS", "Budget", "budget"]
