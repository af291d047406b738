"""Next year's plan: what to hold back, what to add, how much, when, and how sure.

:func:`plan` lays a garden out as arrays (``bench``), asks the solver bed by bed (``ask``,
``solve``), lays the amounts on their days (``parts``), and writes the answer as tables.
:func:`what_if` tries other amounts, :func:`review` holds earlier forecasts against the tests that
came, :func:`save_plan` writes files.
"""

from soiltrend.plan.bill import NO_AIM
from soiltrend.plan.core import Plan, plan
from soiltrend.plan.review import Review, review
from soiltrend.plan.rules import PlanRules
from soiltrend.plan.sliders import try_amounts
from soiltrend.plan.trying import WhatIf, left_alone, what_if
from soiltrend.plan.write import calendar, save_plan

__all__ = [
    "NO_AIM",
    "Plan",
    "PlanRules",
    "Review",
    "WhatIf",
    "calendar",
    "left_alone",
    "plan",
    "review",
    "save_plan",
    "try_amounts",
    "what_if",
]
