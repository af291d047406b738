"""What a result must hold to be told of: the tables of rooms that the story reads by name."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

import pandas as pd


class HasAccount(Protocol):
    """A budget: a row a bed, nutrient and period, and what each material brought."""

    @property
    def table(self) -> pd.DataFrame:
        """The account."""

    @property
    def sources(self) -> pd.DataFrame:
        """What each material brought."""


class HasReasons(Protocol):
    """A change of exchange capacity taken apart."""

    @property
    def table(self) -> pd.DataFrame:
        """The parts."""

    @property
    def headlines(self) -> pd.DataFrame:
        """What may be said of each bed."""

    @property
    def before(self) -> str:
        """The earlier end."""

    @property
    def after(self) -> str:
        """The later end."""

    @property
    def confidence(self) -> float:
        """Of the intervals."""


@runtime_checkable
class HasPlan(Protocol):
    """A plan: what to hold back, what to add, what to expect, what to heed."""

    @property
    def hold(self) -> pd.DataFrame:
        """What to hold back, why, and about which measures."""

    @property
    def doses(self) -> pd.DataFrame:
        """What to add, dated."""

    @property
    def expected(self) -> pd.DataFrame:
        """Now, aim and after."""

    @property
    def cautions(self) -> pd.DataFrame:
        """What to heed."""


class HasBlend(Protocol):
    """A blend of materials."""

    @property
    def table(self) -> pd.DataFrame:
        """How much of each."""

    @property
    def met(self) -> bool:
        """Whether both aims are met."""

    @property
    def why(self) -> str:
        """What stands in the way, in words."""
