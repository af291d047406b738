"""Headlines against the numbers, over many invented gardens, by a reckoning of its own.

The claims are derived again here: the verdict from the interval, the adjusted chance by
statsmodels' Benjamini-Hochberg, the patience of slow measures from the table as text. Nothing of
the story is used but the sentence.
"""

import csv
import re
from functools import lru_cache
from pathlib import Path

import pytest
from scipy.stats import binom
from statsmodels.stats.multitest import multipletests

from soiltrend import story, tables
from soiltrend.compare import compare
from soiltrend.noise import noise_model
from soiltrend.simulate import Design, simulate_garden
from soiltrend.trend import trend

MOVES = (
    {},
    {"pH": 0.9},
    {"K": -0.9, "Ca": 0.8},
    {"OM": 3.0, "CEC": 0.8},
    {"pH": 1.0, "P": 0.8, "K": 0.9, "Zn": -1.1, "Cu": -1.0, "Mg": 0.9},
)
SEASONS = {"short": ("spring 2022", "spring 2024"), "long": ("spring 2019", "spring 2024")}
NAMES = {"pH": "pH", "OM": "organic matter", "CEC": "cation exchange capacity", "P": "phosphorus",
         "K": "potassium", "Ca": "calcium", "Mg": "magnesium", "S": "sulfur", "B": "boron", "Zn": "zinc",
         "Mn": "manganese", "Cu": "copper"}
"""What the twelve measures of an invented garden are called, written out here and not asked for."""

GARDENS = [(span, number, seed) for span in SEASONS for number in range(len(MOVES)) for seed in (1,)]


@lru_cache
def usual():
    """Return the noise of the tables."""
    return noise_model()


@lru_cache
def years_needed():
    """Return the patience of each measure, read from the file as text."""
    path = Path(tables.__file__).parent / "margins.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return {row["analyte"]: float(row["years"]) for row in csv.DictReader(file) if row["years"]}


@lru_cache
def compared(span, number, seed):
    """Return a comparison of an invented garden."""
    design = Design(beds=4, seasons=SEASONS[span])
    garden = simulate_garden(seed=100 * seed + number, design=design, change=MOVES[number])
    return compare(garden, before=SEASONS[span][0], after=SEASONS[span][1], noise=usual())


@lru_cache
def rederived(comparison, span):
    """Return by bed which measures rose and fell and stand, from intervals and p alone."""
    apart = int(SEASONS[span][1][-4:]) - int(SEASONS[span][0][-4:])
    table = comparison.table
    out = {}
    for pooled in (False, True):
        rows = table[(table["bed"] == "(garden)") == pooled]
        rows = rows[rows["p"].notna()]
        rows = rows.assign(mine=multipletests(rows["p"], method="fdr_bh")[1])
        for bed, part in rows.groupby("bed"):
            good = part[(part["mine"] <= 0.05) & (part["verdict"] != "held")]
            waits = good["analyte"].map(lambda name: years_needed().get(name, 0) > apart)
            good = good[~waits.astype(bool)]
            out[bed] = {
                "rose": {NAMES[name] for name in good.loc[good["low"] > 0, "analyte"]},
                "fell": {NAMES[name] for name in good.loc[good["high"] < 0, "analyte"]},
                "of": len(part),
            }
    return out


def said(head):
    """Return what a headline says: for each verb the names, and how many more it counts."""
    start = re.split(r" (?:in bed \d|over the garden)", head)[0]
    out = {"rose": (set(), 0), "fell": (set(), 0)}
    for names, verb in re.findall(r"(.+?) (rose|fell)(?: and |$)", start):
        parts = re.split(r", | and ", names)
        more = [int(part.split()[0]) for part in parts if part.endswith(" more")]
        out[verb] = ({part if part[:2] == "pH" else part[0].lower() + part[1:]
                      for part in parts if not part.endswith(" more")}, sum(more))
    return out


@pytest.mark.parametrize(("span", "number", "seed"), GARDENS)
def test_a_headline_names_what_the_numbers_carry_and_nothing_else(span, number, seed):
    """Every name is carried, everything carried is named or counted, and the count of all is right."""
    comparison = compared(span, number, seed)
    found = rederived(comparison, span)
    for bed, carried in found.items():
        head = story.headline(comparison, bed=bed)
        for verb, (names, more) in said(head).items():
            assert names <= carried[verb], head
            assert len(names) + more == len(carried[verb]), head
        if carried["rose"] or carried["fell"]:
            counted = re.search(r": (\d+) of (\d+) measures compared", head)
            if counted:
                expected = (len(carried["rose"]) + len(carried["fell"]), carried["of"])
                assert tuple(map(int, counted.groups())) == expected
        else:
            assert head.startswith("No sure change")


@pytest.mark.parametrize(("span", "number", "seed"), GARDENS)
def test_a_headline_over_the_beds_counts_the_beds_that_stand(span, number, seed):
    """"rose in 2 and fell in 1 of 4 beds" is what intervals and adjusted chances give."""
    comparison = compared(span, number, seed)
    found = rederived(comparison, span)
    for analyte, name in NAMES.items():
        head = story.headline_of_beds(comparison, analyte=analyte)
        beds = [found[f"bed {n}"] for n in range(1, 5)]
        counts = {verb: sum(name in bed[verb] for bed in beds) for verb in ("rose", "fell")}
        told = {verb: int(n) for verb, n in re.findall(r"(rose|fell) in (\d)", head)}
        assert told == {verb: n for verb, n in counts.items() if n}, head
        if "too soon" in head:
            assert years_needed()[analyte] > 2


@pytest.mark.parametrize(("span", "number", "seed"), GARDENS)
def test_what_moved_and_is_not_said_is_refused(span, number, seed):
    """Every measure whose interval leaves out nothing is either a claim or a refusal with its reason."""
    comparison = compared(span, number, seed)
    found = rederived(comparison, span)
    for bed in ("bed 1", "bed 2"):
        rows = comparison.table[comparison.table["bed"] == bed]
        rows = rows[rows["verdict"].isin(["rose", "fell"])]
        words = story.change_words(comparison, bed=bed)
        refused = " ".join(words.refusals).casefold()
        for analyte, verb in zip(rows["analyte"], rows["verdict"], strict=True):
            claim = f"“{NAMES[analyte]} {verb}”".casefold()
            assert (claim in refused) == (NAMES[analyte] not in found[bed][verb])


def test_luck_seldom_makes_a_headline():
    """In gardens in which nothing changed a bed is named about as seldom as the rate of 5 % promises."""
    named = 0
    gardens = 8
    for seed in range(gardens):
        still = simulate_garden(seed=5000 + seed, design=Design(beds=3))
        comparison = compare(still, before="spring 2022", after="spring 2024", noise=usual())
        heads = [story.headline(comparison, bed=f"bed {n}") for n in (1, 2, 3)]
        named += any(not head.startswith("No sure change") for head in heads)
    assert named <= binom.ppf(0.999, gardens, 0.05)


@pytest.mark.parametrize("seed", [1])
def test_a_trend_headline_counts_the_trends_that_stand(seed):
    """The counts are those of slopes whose interval leaves out nothing, adjusted among all fitted."""
    seasons = tuple(f"spring {year}" for year in range(2017, 2025))
    garden = simulate_garden(seed=seed, design=Design(beds=4, seasons=seasons), change={"K": 1.2, "Zn": -1.2})
    found = trend(garden, noise=usual())
    beds = found.table[(found.table["bed"] != "(garden)") & found.table["p"].notna()]
    beds = beds.assign(mine=multipletests(beds["p"], method="fdr_bh")[1])
    for analyte in NAMES:
        rows = beds[(beds["analyte"] == analyte) & (beds["mine"] <= 0.05)]
        up, down = (int((rows["verdict"] == verb).sum()) for verb in ("rising", "falling"))
        head = story.trend_headline(found, analyte=analyte)
        told = {verb: int(n) for verb, n in re.findall(r"(rising|falling) in (\d)", head)}
        assert told == {verb: n for verb, n in (("rising", up), ("falling", down)) if n}, head
