"""``python -m soiltrend`` is the command ``soiltrend``."""

import sys

from soiltrend.cli import main

sys.exit(main())
