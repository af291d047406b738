"""A share beside its amounts: the closure sentence, and log-ratios against published values."""

import numpy as np
import pytest
from soils import mass

from soiltrend import frames
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange
from soiltrend.noise import noise_model
from soiltrend.why import why_cec, why_share
from soiltrend.why.charges import capacities

ENDS = {"before": "spring 2022", "after": "spring 2024"}
IONS = ("Ca", "Mg", "K", "Na")
NAMES = (*IONS, *(f"{ion} saturation" for ion in IONS))
SURE = {name: {"sd": 0.01, "occasion": 0.0, "season": 0.0} for name in NAMES}
START = {"Ca": 8.0, "Mg": 2.0, "K": 0.5, "Na": 0.1, "acidity": 1.0}
EQUAL = dict.fromkeys(IONS, 2.5)
GROWN = {"K": 0.61, "Ca": 9.76, "Mg": 2.44, "Na": 0.122, "acidity": 1.22}
BEDS = {
    "more Ca": (START, {**START, "Ca": 12.0}, 6.4),
    "odd K": ({**START, "K": 0.55}, {**START, "K": 0.55, "Ca": 12.0}, 6.4),
    "less K": (START, {**START, "K": 0.25}, 6.4),
    "more of both": (START, {**START, "K": 0.6, "Ca": 16.0}, 6.4),
    "more acid": (START, {**START, "acidity": 7.0}, 6.4),
    "same": (START, START, 6.4),
    "all grown": (START, GROWN, 6.4),
    "limed": (START, {**START, "Ca": 12.0}, 7.8),
    "equal": (EQUAL, {"Ca": 1.0, "Mg": 3.0, "K": 4.0, "Na": 2.0}, 7.1),
    "much more Ca": (START, {**START, "Ca": 30.0}, 6.4),
}
"""Cations in cmol/kg before and after, and pH, of beds that differ in nothing else."""


def soils(beds):
    """Return the tidy frame of some beds in two springs, by independent equivalent weights."""
    rows = []
    for bed in beds:
        *ends, pH = BEDS[bed]
        for season, charges in zip(ENDS.values(), ends, strict=True):
            same = {"bed": bed, "season": season, "sample": f"{bed} {season}"}
            rows += [
                {
                    **same,
                    "analyte": ion,
                    "value": value,
                    "method": "" if ion == "acidity" else "Mehlich-3",
                    "unit": "cmol/kg" if ion == "acidity" else "mg/kg",
                }
                for ion, value in mass(charges).items()
            ]
            rows.append({**same, "analyte": "pH", "value": pH, "unit": "pH"})
    return frames.results(rows)


@pytest.fixture(scope="module")
def sure():
    """Return what is said of all beds when noise is next to nothing."""
    rows = soils(BEDS)
    return why_share(rows, noise=noise_model(rows, overrides=SURE), **ENDS)


@pytest.fixture(scope="module")
def usual():
    """Return what is said when every cation moves by 10 % by itself."""
    rows = soils(["more Ca", "much more Ca"])
    tenth = {ion: {"sd": 0.1, "occasion": 0.0} for ion in IONS}
    return why_share(rows, noise=noise_model(rows, overrides=tenth), **ENDS)


def of(found, bed):
    """Return the word, the sentence and the rows by ion of one bed."""
    head = found.headlines.set_index("bed").loc[bed]
    return head["said"], head["sentence"], found.table[found.table["bed"] == bed].set_index("ion")


def test_only_calcium_moves_and_every_other_share_falls(sure):
    """Closure (Aitchison 1986): K%, Mg% and Na% fall, ln(K/Mg) and the amounts stand."""
    said, sentence, table = of(sure, "more Ca")
    assert said == "share only"
    assert sentence.startswith("K% fell because Ca rose: K itself held")
    assert table.loc["K", "share_after"] == pytest.approx(100 * 0.5 / 15.6, rel=1e-4)
    assert table.loc["K", "change"] == pytest.approx(0.0, abs=1e-9)
    assert table.loc["Mg", "additive"] == pytest.approx(0.0, abs=1e-9)
    assert table.loc["Ca", "additive"] == pytest.approx(-100 * np.log(1.5))
    assert table.loc[["Mg", "K", "Na"], "share_verdict"].tolist() == ["fell"] * 3


@pytest.mark.parametrize("turn", [1, -1])
def test_each_layer_has_the_shares_of_its_own_amounts(turn):
    """Two layers of one bed, in either order: K is 0.25 of 11.35 in one, and 0.5 of 15.6 in the other."""
    upper = soils(["less K"]).assign(bed="both", top_cm=0.0, bottom_cm=15.0)
    lower = soils(["more Ca"]).assign(bed="both", top_cm=15.0, bottom_cm=30.0)
    rows = frames.join(*(upper, lower)[::turn])
    table = why_share(rows, noise=noise_model(rows, overrides=SURE), **ENDS).table
    mine = table[table["ion"] == "K"].set_index("top_cm")[["after", "share_after"]]
    assert mine.loc[0.0].to_numpy() == pytest.approx([0.25, 100 * 0.25 / 11.35], rel=1e-3)
    assert mine.loc[15.0].to_numpy() == pytest.approx([0.5, 100 * 0.5 / 15.6], rel=1e-3)


def test_centred_log_ratios_are_the_published_ones(sure):
    """clr(.1, .3, .4, .2) of the scikit-bio documentation, from four equal parts (clr of 0)."""
    _, _, table = of(sure, "equal")
    published = [-0.79451346, 0.30409883, 0.5917809, -0.10136628]
    assert table.loc[list(IONS), "centred"].to_numpy() / 100 == pytest.approx(published, abs=1e-7)
    assert table["centred"].sum() == pytest.approx(0.0, abs=1e-9)


def test_what_did_not_move_is_told_as_nothing(sure):
    """An amount that is the same twice has changed by 0 %, and so have two of them to each other."""
    rows = sure.table[sure.table["bed"] == "odd K"].set_index("ion")
    assert rows.loc[["Mg", "K", "Na"], "percent"].tolist() == [0.0, 0.0, 0.0]
    assert rows.loc[["Mg", "Na"], "additive"].tolist() == [0.0, 0.0]


def test_the_interval_of_a_log_ratio_is_that_of_independent_errors(usual):
    """Variance of ln(K/Mg): the sum of both; centred: (1-1/D)^2 v + the others / D^2 (textbook)."""
    _, _, table = of(usual, "more Ca")
    half = 1.959964 * np.sqrt(2) * 0.1 * 100
    assert table.loc["Mg", "additive_high"] == pytest.approx(half * np.sqrt(2), rel=1e-4)
    spread = np.sqrt(0.75**2 + 3 / 16)
    ca = table.loc["Ca"]
    assert ca["centred_high"] - ca["centred"] == pytest.approx(half * spread, rel=1e-4)


@pytest.mark.parametrize(
    ("bed", "said", "words"),
    [
        ("less K", "amount and share", "K% fell and so did K itself"),
        ("more of both", "amount against share", "K% fell because Ca rose more: K itself rose"),
        ("more acid", "share only", "K% fell because acidity rose: K itself held"),
        ("same", "nothing moved", "K% held"),
        ("all grown", "share held", "K% did not move"),
    ],
)
def test_what_is_said_follows_the_amounts(sure, bed, said, words):
    """The sentence is carried by the verdicts of the amounts and not by the shares."""
    found = of(sure, bed)
    assert found[0] == said
    assert found[1].startswith(words)


def test_an_unclear_amount_carries_no_because(usual):
    """With ordinary noise a K that stayed is not known to have stayed."""
    said, sentence, _ = of(usual, "much more Ca")
    assert said == "cannot say"
    assert sentence.startswith("K% fell while Ca rose; whether K itself changed cannot be told")


def test_a_swollen_sum_is_said(sure):
    """Above pH 7.3 the whole may hold lime (Kansas Agric. Exp. Stn. Research Reports 7(8))."""
    assert "shares are not to be relied on" in of(sure, "limed")[1]
    assert "shares are not to be relied on" not in of(sure, "more Ca")[1]


def test_no_part_of_the_sum_is_refused():
    """Phosphorus is no exchangeable cation."""
    with pytest.raises(SoiltrendError, match="'P' is no part of a summed exchange capacity"):
        why_share(soils(["same"]), cation="P", **ENDS)


def limited(season, sodium, sign, **more):
    """Return a bed of one spring whose sodium lies beyond a limit [mg/kg]."""
    same = {"bed": "East", "season": season, "sample": season}
    amounts = {**mass({"Ca": 8.0, "Mg": 2.0, "K": 0.4}), "Na": sodium, "acidity": 1.0, **more}
    return [{**same, "analyte": ion, "value": value, "method": "" if ion == "acidity" else "Mehlich-3",
             "unit": "cmol/kg" if ion == "acidity" else "mg/kg", "qualifier": sign if ion == "Na" else ""}
            for ion, value in amounts.items()]  # fmt: skip


LIMITS = [((60.0, "<"), (5.0, "<")), ((60.0, "<"), (5.0, "")), ((5.0, ""), (60.0, "<"))]


@pytest.mark.parametrize(("first", "second"), LIMITS)
def test_the_amount_of_an_ion_below_its_limit_moves_as_a_comparison_says(first, second):
    """<60 and then <5 may be 4 and 4: the verdict is that of ``compare`` of the sodium itself."""
    rows = frames.results([*limited(ENDS["before"], *first), *limited(ENDS["after"], *second)])
    told = compare(rows, **ENDS).table.set_index(["bed", "analyte"])["verdict"]
    found = why_share(rows, **ENDS, cation="Na")
    row = found.table.set_index("ion").loc["Na"]
    assert row["verdict"] == told[("East", "Na")] == "unclear"
    assert np.isnan(row[["change", "percent", "percent_low"]].to_numpy(dtype=float)).all()
    head = found.headlines.iloc[0]
    assert head["said"] == "cannot say"
    one, two = (f"{sign}{value / 229.9:.2g}" for value, sign in (first, second))
    assert f"{one} to {two} cmol/kg" in head["sentence"]
    parts = why_cec(rows, **ENDS).table.set_index("part")
    assert parts.loc["Na", "verdict"] == "unclear"
    assert "a limit of the laboratory hides by how much" in parts.loc["Na", "why"]
    for ion in ("Ca", "Mg", "K", "acidity"):
        assert "limit" not in parts.loc[ion, "why"]
        assert parts.loc[ion, "change"] == pytest.approx(0, abs=1e-9)


def test_what_fell_below_a_limit_far_below_fell():
    """Sodium of 60 and then <5: less than a tenth is sure, and that it is at least so much is all that is."""
    rows = frames.results([*limited(ENDS["before"], 60.0, ""), *limited(ENDS["after"], 5.0, "<")])
    row = why_share(rows, **ENDS, cation="Na").table.set_index("ion").loc["Na"]
    assert row["verdict"] == "fell"
    assert np.isnan(row["change"])


def test_acidity_of_a_buffer_below_its_scale_lies_above():
    """A buffer pH below what is read is more acidity than what is read: how far it moved is hidden."""
    rows = []
    for season, sign in zip(ENDS.values(), ("", "<"), strict=True):
        same = {"bed": "East", "season": season, "sample": season}
        rows += [row for row in limited(season, 20.0, "") if row["analyte"] != "acidity"]
        rows.append({**same, "analyte": "buffer pH", "method": "SMP", "unit": "pH", "value": 6.0,
                     "qualifier": sign})  # fmt: skip
    summed = exchange(frames.results(rows), acidity="SMP")
    signs = capacities(summed).set_index("season")
    assert signs["acidity sign"].tolist() == ["", ">"]
    assert signs[["Ca sign", "Na sign"]].eq("").all(axis=None)
