"""Amounts moved by hand: sliders where the notebook can show them, a table where it cannot."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Any

from soiltrend.errors import SoiltrendError
from soiltrend.folder import nearest
from soiltrend.plan.core import Plan
from soiltrend.plan.trying import WhatIf, what_if

STEPS = 100
"""A slider has so many steps up to the most that a bed takes in a year."""


def try_amounts(plan: Plan, *, bed: str, materials: tuple[str, ...] = ()) -> Any:
    """Return sliders that set amounts [g/m2] for one bed and show what the next test would be.

    Parameters
    ----------
    plan : Plan
        What :func:`soiltrend.plan` gave.
    bed : str
        The bed.
    materials : tuple of str
        Which materials get a slider; those on hand by default.

    Returns
    -------
    widget or WhatIf
        Where ipywidgets is not installed, the plan's own amounts as :func:`soiltrend.what_if` shows them.

    Raises
    ------
    SoiltrendError
        When the bed or a material is not known.
    """
    if bed not in plan.amounts:
        raise SoiltrendError(f"'{bed}' is not a bed of this garden ({nearest(bed, plan.amounts)})")
    names = materials or tuple(map(str, _on_hand(plan)))
    for name in names:
        if name not in plan.bench.shed.names:
            known = nearest(name, plan.bench.shed.names)
            raise SoiltrendError(f"'{name}' is no material of this plan ({known})")
    if find_spec("ipywidgets") is None:
        return what_if(plan, amounts={bed: plan.amounts[bed]})
    return _widgets(plan, bed, names)


def _on_hand(plan: Plan) -> list[str]:
    """Return the materials on hand, or all when none is."""
    rows = plan.bench.shed.rows
    return list(rows.index[rows["on_hand_kg"] > 0]) or plan.bench.shed.names


def tried(plan: Plan, bed: str, amounts: dict[str, float]) -> WhatIf:
    """Return what the amounts would do; a material at 0 is left out.

    Parameters
    ----------
    plan : Plan
        The plan.
    bed : str
        The bed.
    amounts : dict
        g/m2 by material.
    """
    return what_if(plan, amounts={bed: {name: much for name, much in amounts.items() if much > 0}})


def _widgets(plan: Plan, bed: str, names: tuple[str, ...]) -> Any:
    """Return sliders over an area that shows the forecast, drawn anew when one is let go."""
    import ipywidgets as widgets  # heavy; only where sliders are asked for

    most = dict(zip(plan.bench.shed.names, plan.bench.shed.most, strict=True))
    sliders = {
        name: widgets.FloatSlider(
            value=plan.amounts[bed].get(name, 0.0),
            max=float(most[name]),
            step=float(most[name]) / STEPS,
            description=name,
            continuous_update=False,
            style={"description_width": "12em"},
        )
        for name in names
    }
    shown = widgets.HTML()

    def show(_: object = None) -> None:
        """Show what the amounts of the sliders come to."""
        found = tried(plan, bed, {name: slider.value for name, slider in sliders.items()})
        shown.value = found._repr_html_()

    for slider in sliders.values():
        slider.observe(show, names="value")
    show()
    return widgets.VBox([*sliders.values(), shown])
