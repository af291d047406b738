"""The sentences of shares that add up to 100: which amount moved, and which only its share."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from soiltrend import verdicts
from soiltrend.present import number

SAID = ("share only", "amount and share", "amount against share", "share held", "cannot say", "nothing moved")
ONLY, BOTH, AGAINST, STILL, UNSURE, NOTHING = SAID
MOVED = (verdicts.ROSE, verdicts.FELL)
_OTHER = {verdicts.ROSE: verdicts.FELL, verdicts.FELL: verdicts.ROSE}


def row(told: Mapping[str, Any]) -> str:
    """Return the sentence of one ion: its amount, its share and its log-ratio."""
    amount = f"{told['ion']} {told['verdict']}: {_ends(told, digits=3)} cmol/kg"
    share = (f"its share {told['share_verdict']}: {_ends(told, of='share_', digits=3)} %"
             if told["share_verdict"] else "its share is not compared")
    at, low, high = (told[name] for name in ("centred", "centred_low", "centred_high"))
    ratio = (f"against all bases {at:+.0f} (between {low:.0f} and {high:.0f}) hundredths of a log unit"
             if at == at else "")
    return "; ".join(part for part in (amount, share, ratio) if part)


def sentence(cation: str, told: Mapping[str, Mapping[str, Any]], *, warned: bool) -> tuple[str, str]:
    """Return what may be said of a share's change, in a word and in a sentence.

    Parameters
    ----------
    cation : str
        The cation asked for.
    told : mapping
        The rows of one bed by ion.
    warned : bool
        Whether lime or salts may swell one of the sums.
    """
    if cation not in told or not told[cation]["share_verdict"]:
        return UNSURE, f"The share of {cation} cannot be compared"
    mine = told[cation]
    said, text = _moved(cation, mine, told) if mine["share_verdict"] in MOVED else _stood(cation, mine)
    caution = ("; undissolved lime, shell or salts may swell calcium and the whole, so shares are not to be "
               "relied on: look at the amounts and at ratios without calcium" if warned else "")
    return said, f"{text}{caution}"


def _ends(mine: Mapping[str, Any], *, of: str = "", digits: int = 2) -> str:
    """Return both ends, each with its sign where it lies beyond a limit."""
    signs, values = ([mine[f"{of}{end}{what}"] for end in ("before", "after")] for what in ("_sign", ""))
    return " to ".join(f"{sign}{number(at, digits=digits)}" for sign, at in zip(signs, values, strict=True))


def _figures(mine: Mapping[str, Any]) -> str:
    return f"{_ends(mine)} cmol/kg"


def _stood(cation: str, mine: Mapping[str, Any]) -> tuple[str, str]:
    """Return the sentence of a share that did not move beyond noise."""
    name = cation if cation == "acidity" else f"{cation}%"
    ends = f"{_ends(mine, of='share_')} %"
    if mine["verdict"] not in MOVED and (mine["before_sign"] or mine["after_sign"]):
        return UNSURE, (f"Whether {name} moved cannot be told ({ends}): {cation} lies beyond the "
                        f"laboratory's limit ({_figures(mine)})")
    if mine["verdict"] in MOVED:
        return STILL, (f"{name} did not move by more than noise ({ends}), although the amount of {cation} "
                       f"{mine['verdict']} ({_figures(mine)})")
    word = "held" if mine["share_verdict"] == verdicts.HELD else "moved by no more than noise"
    return NOTHING, f"{name} {word} ({ends}), and the amount of {cation} shows no change ({_figures(mine)})"


def _moved(cation: str, mine: Mapping[str, Any],
           told: Mapping[str, Mapping[str, Any]]) -> tuple[str, str]:
    """Return the sentence of a share that moved: why, as far as the amounts carry it."""
    name = cation if cation == "acidity" else f"{cation}%"
    way = mine["share_verdict"]
    drivers = [ion for ion, row in told.items() if ion != cation and row["verdict"] == _OTHER[way]]
    who = " and ".join(drivers)
    lead = f"{name} {way}"
    if mine["verdict"] == way:
        beside = f"; {who} {_OTHER[way]} as well" if drivers else ""
        return BOTH, f"{lead} and so did {cation} itself ({_figures(mine)}){beside}"
    if mine["verdict"] == _OTHER[way]:
        more = f"because {who} {_OTHER[way]} more" if drivers else "against its own amount"
        return AGAINST, f"{lead} {more}: {cation} itself {mine['verdict']} ({_figures(mine)})"
    if mine["verdict"] == verdicts.HELD and drivers:
        return ONLY, f"{lead} because {who} {_OTHER[way]}: {cation} itself held ({_figures(mine)})"
    if drivers:
        return UNSURE, (f"{lead} while {who} {_OTHER[way]}; whether {cation} itself changed cannot be told "
                        f"({_figures(mine)})")
    return UNSURE, (f"{lead}, but no single amount moved by more than noise, so it cannot be told which did "
                    f"it; {cation} itself: {_figures(mine)}")
