"""The grower's folder as one object, and the account of its files."""

from soiltrend.garden.account import account, cautions, missing, reasons, remarks, unsettled
from soiltrend.garden.folder import Garden, open_garden

__all__ = ["Garden", "account", "cautions", "missing", "open_garden", "reasons", "remarks", "unsettled"]
