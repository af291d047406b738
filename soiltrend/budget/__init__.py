"""What went in, what came out, what the test did: the account of a garden."""

from soiltrend.budget.card import BedCard, bed_card
from soiltrend.budget.core import NUTRIENTS, Budget, budget
from soiltrend.budget.lines import account_lines
from soiltrend.budget.shelf import log_faults

__all__ = ["NUTRIENTS", "BedCard", "Budget", "account_lines", "bed_card", "budget", "log_faults"]
