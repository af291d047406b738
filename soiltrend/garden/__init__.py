"""The grower's folder as one object, and the account of its files."""

from soiltrend.garden.account import account, cautions, reasons
from soiltrend.garden.folder import Garden, open_garden

__all__ = ["Garden", "account", "cautions", "open_garden", "reasons"]
