"""The sentences of a capacity taken apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import frames, verdicts
from soiltrend.present import number
from soiltrend.why.charges import Move
from soiltrend.why.given import interval
from soiltrend.why.suspects import Suspects

ARTEFACT, MAYBE, HANDS = "artefact", "may be an artefact", "sites changed hands"
ALLOWED, UNEXPLAINED = "as organic matter allows", "not explained"
NOISE, CANNOT = "within noise", "cannot say"
UNDISSOLVED = "undissolved lime, shell or gypsum"
LIMITED = "a cation lies beyond the laboratory's limit, and the sum is known only up to that"
NO_CHANGE = "no change seen"
MOVED = (verdicts.ROSE, verdicts.FELL)


@dataclass(frozen=True, eq=False)
class State:
    """All that the headline of one bed is made from.

    Attributes
    ----------
    total : dict
        How the sum moved.
    parts : dict
        How each ion moved.
    held : Suspects
        What may be counted that was not held.
    used : DataFrame
        The rows behind the sum.
    drawn : tuple of array
        Draws of what organic matter explains, of what is left over and of the sum's change.
    confidence : float
        Of the intervals.
    """

    total: Move
    parts: dict[str, Move]
    held: Suspects
    used: pd.DataFrame
    drawn: tuple[np.ndarray, np.ndarray, np.ndarray]
    confidence: float


def amount(value: float) -> str:
    """Return a change of charge with its sign.

    Examples
    --------
    >>> amount(2.04), amount(-0.333)
    ('+2.0 cmol/kg', '-0.33 cmol/kg')
    >>> amount(0.0)
    'no change seen'
    """
    if value == 0:
        return NO_CHANGE
    return f"{'+' if value >= 0 else '-'}{number(abs(value), digits=2)} cmol/kg"


def _span(row: Move) -> str:
    low, high = (number(row[end], digits=2) for end in ("low", "high"))
    return f"{amount(row['change'])}, between {low} and {high}"


def cation(ion: str, row: Move, total: Move) -> str:
    """Return the sentence of one cation."""
    named = "Exchangeable acidity" if ion == "acidity" else ion
    whole = amount(total["change"])
    beside = f"; {whole} of the whole" if whole == NO_CHANGE else f"; of the {whole} of the whole"
    beside = "" if np.isnan(total["step"]) else beside
    if np.isnan(row["step"]):
        ends = " to ".join(f"{row[f'{end}_sign']}{number(row[end], digits=2)}" for end in ("before", "after"))
        return f"{named} {row['verdict']}: {ends} cmol/kg, and a limit of the laboratory hides by how much"
    return f"{named} {row['verdict']}: {_span(row)}{beside}"


def _points(change: float) -> str:
    return f"{change:+.2g} points" if change else NO_CHANGE


def organic(humus: Move, ends: np.ndarray, reaction: list[float], *, counted: bool) -> str:
    """Return how much organic matter can explain, and by which charge."""
    low, high = ends[1]
    at = (f"{low:.0f} to {high:.0f} cmol per kg of it near pH 7, at which the sum counts its sites" if counted
          else f"{ends[0][0]:.0f} to {ends[0][1]:.0f} at pH {reaction[0]:.1f} and {low:.0f} to {high:.0f} at "
               f"pH {reaction[1]:.1f}, because the sum counts no acidity")
    return (f"Organic matter {humus['verdict']} ({_points(humus['change'])}, {humus['low']:.2g} to "
            f"{humus['high']:.2g}); published charge {at}")


def rest(state: State) -> str:
    """Return what the left-over is, and what could not be taken off."""
    if hidden(state):
        return f"Not told: {LIMITED}"
    blanks = [name for name, part in (("organic matter", state.drawn[0]), (UNDISSOLVED, state.held.drawn))
              if not np.isfinite(part).all()]
    off = f"; the part of {' and of '.join(blanks)} is not known and is still in it" if blanks else ""
    return f"What the sum moved less what organic matter can explain and {UNDISSOLVED} can fake{off}"


def headline(state: State) -> tuple[str, str]:
    """Return what may be said of one bed's change, in a word and in a sentence."""
    total = state.total
    before, after = number(total["before"]), number(total["after"])
    lead = (f"Summed exchange capacity came to {before} and then to {after} cmol/kg" if hidden(state) else
            f"Summed exchange capacity {_verb(total)} from {before} to {after} cmol/kg ({_span(total)})")
    for look in (_unlike, _inflated, _limited, _hands, _noise):
        found = look(state)
        if found:
            return found[0], f"{lead}. {found[1]}"
    return _matter(state, lead)


def _verb(total: Move) -> str:
    verb = {verdicts.ROSE: "rose", verdicts.FELL: "fell", verdicts.HELD: "held"}
    return verb.get(str(total["verdict"]), "moved, by no more than noise,")


def _unlike(state: State) -> tuple[str, str] | None:
    """Return whether the two sums were not made alike."""
    sodium = [bool(state.used.loc[state.used["end"] == end, "Na"].notna().any()) for end in (0, 1)]
    if sodium[0] != sodium[1]:
        return ARTEFACT, "The sums are not alike: Na is counted at one end only"
    if state.used["note"].str.contains(frames.FORMULA_CHANGED, regex=False).any():
        kinds = state.used["place"].str.extract(r"with(?:out)? (.*acidity.*)$")[0]
        if len(set(kinds.dropna()) - {"no acidity"}) > 1:
            return ARTEFACT, "The acidity in the two sums was not reckoned alike, and that alone moves them"
    return None


def _inflated(state: State) -> tuple[str, str] | None:
    """Return whether lime, shell, gypsum or salts can have made the number."""
    held = state.held
    if not any(held.warned) and not any(held.most):
        return None
    names = " and ".join(held.names)
    if any(held.warned):
        ends = {(True, True): "Both sums read", (True, False): "The earlier sum reads",
                (False, True): "The later sum reads"}[held.warned]
        most = max(most for most, warned in zip(held.most, held.warned, strict=True) if warned)
        size = (f"by up to {number(most, digits=2)} cmol/kg ({names})" if np.isfinite(most)
                else "by how much cannot be told")
        return ARTEFACT, (f"{ends} too high, {size}: {held.notes[-1]}. The number is an artefact: it does "
                          "not say that the soil holds more or less than before")
    faked = interval(held.drawn, state.confidence)[1]
    left = float(np.quantile(state.drawn[2] - faked, (1 - state.confidence) / 2))
    if state.total["verdict"] == verdicts.ROSE and left <= 0:
        return MAYBE, (f"What may still lie undissolved of {names} can add up to {number(faked, digits=2)} "
                       "cmol/kg, and what remains is within noise: no gain of capacity is shown")
    return None


def hidden(state: State) -> bool:
    """Return whether limits of the laboratory hide how far the sum moved."""
    return bool(np.isnan(state.total["step"]))


def _limited(state: State) -> tuple[str, str] | None:
    """Return that a limit stands in a sum, when one hides how far it moved."""
    return (CANNOT, f"By how much cannot be told: {LIMITED}") if hidden(state) else None


def _hands(state: State) -> tuple[str, str] | None:
    """Return whether bases took the place of acidity, or gave it up, while the sum stood."""
    acid = state.parts.get("acidity")
    if acid is None or acid["verdict"] not in MOVED or state.total["verdict"] in MOVED:
        return None
    other = verdicts.ROSE if acid["verdict"] == verdicts.FELL else verdicts.FELL
    named = [ion for ion, row in state.parts.items() if ion != "acidity" and row["verdict"] == other]
    if not named:
        return None
    who = " and ".join(named)
    took = (f"{who} took the place of acidity ({amount(acid['change'])})" if other == verdicts.ROSE
            else f"acidity ({amount(acid['change'])}) took the place of {who}")
    return HANDS, f"Sites changed hands: {took}; the capacity did not grow by that"


def _noise(state: State) -> tuple[str, str] | None:
    """Return that there is nothing to explain."""
    if state.total["verdict"] in MOVED:
        return None
    return NOISE, "There is nothing to explain: two such sums differ by as much with no change in the soil"


def _matter(state: State, lead: str) -> tuple[str, str]:
    """Return whether organic matter can account for a change that is more than noise."""
    explained, left, _ = state.drawn
    most = max(state.parts.items(), key=lambda item: abs(item[1]["change"]))
    which = f"Most of it is {most[0]} ({amount(most[1]['change'])})"
    if not np.isfinite(explained).all():
        return UNEXPLAINED, f"{lead}. {which}; what organic matter did is not known"
    low, high = interval(explained, state.confidence)
    ends = [number(end, digits=2) for end in (low, high)]
    could = f"organic matter can account for {ends[0]} to {ends[1]} cmol/kg of it"
    least, most_left = interval(left, state.confidence)
    same = np.sign(np.median(explained)) == np.sign(state.total["change"])
    if least <= 0 <= most_left and same:
        return ALLOWED, f"{lead}. {which}; {could}, and what is left over is within noise"
    return UNEXPLAINED, (f"{lead}. {which}; {could}, and {number(least, digits=2)} to "
                         f"{number(most_left, digits=2)} is left over: look at sampling depth, at the "
                         "laboratory's batch and at lime")
