"""The grower's folder as one object, and the account of its files."""

from soiltrend.garden.account import account, reasons
from soiltrend.garden.folder import Garden, open_garden

__all__ = ["Garden", "account", "open_garden", "reasons"]
