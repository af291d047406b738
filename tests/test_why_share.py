"""A share beside its amounts: the closure sentence, and log-ratios against published values."""

import numpy as np
import pytest
from soils import mass

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.noise import noise_model
from soiltrend.why import why_share

ENDS = {"before": "spring 2022", "after": "spring 2024"}
IONS = ("Ca", "Mg", "K", "Na")
SURE = noise_model(
    overrides={
        name: {"sd": 0.01, "occasion": 0.0, "season": 0.0}
        for name in (*IONS, *(f"{ion} saturation" for ion in IONS))
    }
)


def soils(before, after, pH=6.4):
    """Return the tidy frame of one bed in two springs, cations in cmol/kg by independent weights."""
    rows = []
    for season, charges in zip(ENDS.values(), (before, after), strict=True):
        same = {"bed": "East", "season": season, "sample": season}
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


def asked(before, after, *, noise=SURE, cation="K", **more):
    """Return the word, the sentence and the table of one question."""
    found = why_share(soils(before, after, **more), cation=cation, noise=noise, **ENDS)
    head = found.headlines.iloc[0]
    return head["said"], head["sentence"], found.table.set_index("ion")


START = {"Ca": 8.0, "Mg": 2.0, "K": 0.5, "Na": 0.1, "acidity": 1.0}


def test_only_calcium_moves_and_every_other_share_falls():
    """Closure (Aitchison 1986): K%, Mg% and Na% fall, ln(K/Mg) and the amounts stand."""
    said, sentence, table = asked(START, {**START, "Ca": 12.0})
    assert said == "share only"
    assert sentence.startswith("K% fell because Ca rose: K itself held")
    assert table.loc["K", "share_after"] == pytest.approx(100 * 0.5 / 15.6, rel=1e-4)
    assert table.loc["K", "change"] == pytest.approx(0.0, abs=1e-9)
    assert table.loc["Mg", "additive"] == pytest.approx(0.0, abs=1e-9)
    assert table.loc["Ca", "additive"] == pytest.approx(-100 * np.log(1.5))
    assert table.loc[["Mg", "K", "Na"], "share_verdict"].tolist() == ["fell"] * 3


def test_centred_log_ratios_are_the_published_ones():
    """clr(.1, .3, .4, .2) of the scikit-bio documentation, from four equal parts (clr of 0)."""
    _, _, table = asked(dict.fromkeys(IONS, 2.5), {"Ca": 1.0, "Mg": 3.0, "K": 4.0, "Na": 2.0}, pH=7.1)
    published = [-0.79451346, 0.30409883, 0.5917809, -0.10136628]
    assert table.loc[list(IONS), "centred"].to_numpy() / 100 == pytest.approx(published, abs=1e-7)
    assert table["centred"].sum() == pytest.approx(0.0, abs=1e-9)


def test_the_interval_of_a_log_ratio_is_that_of_independent_errors():
    """Variance of ln(K/Mg): the sum of both; centred: (1-1/D)^2 v + the others / D^2 (textbook)."""
    noise = noise_model(overrides={ion: {"sd": 0.1, "occasion": 0.0} for ion in IONS})
    _, _, table = asked(START, {**START, "Ca": 12.0}, noise=noise)
    half = 1.959964 * np.sqrt(2) * 0.1 * 100
    assert table.loc["Mg", "additive_high"] == pytest.approx(half * np.sqrt(2), rel=1e-4)
    spread = np.sqrt(0.75**2 + 3 / 16)
    ca = table.loc["Ca"]
    assert ca["centred_high"] - ca["centred"] == pytest.approx(half * spread, rel=1e-4)


@pytest.mark.parametrize(
    ("after", "said", "words"),
    [
        ({**START, "K": 0.25}, "amount and share", "K% fell and so did K itself"),
        (
            {**START, "K": 0.6, "Ca": 16.0},
            "amount against share",
            "K% fell because Ca rose more: K itself rose",
        ),
        ({**START, "acidity": 7.0}, "share only", "K% fell because acidity rose: K itself held"),
        (START, "nothing moved", "K% held"),
        (
            {**START, "K": 0.61, "Ca": 9.76, "Mg": 2.44, "Na": 0.122, "acidity": 1.22},
            "share held",
            "K% did not move",
        ),
    ],
)
def test_what_is_said_follows_the_amounts(after, said, words):
    """The sentence is carried by the verdicts of the amounts and not by the shares."""
    found = asked(START, after)
    assert found[0] == said
    assert found[1].startswith(words)


def test_an_unclear_amount_carries_no_because():
    """With ordinary noise a K that stayed is not known to have stayed."""
    said, sentence, _ = asked(START, {**START, "Ca": 30.0}, noise=noise_model())
    assert said == "cannot say"
    assert sentence.startswith("K% fell while Ca rose; whether K itself changed cannot be told")


def test_a_swollen_sum_is_said():
    """Above pH 7.3 the whole may hold lime (Kansas Agric. Exp. Stn. Research Reports 7(8))."""
    _, sentence, _ = asked(START, {**START, "Ca": 12.0}, pH=7.8)
    assert "shares are not to be relied on" in sentence


def test_no_part_of_the_sum_is_refused():
    """Phosphorus is no exchangeable cation."""
    with pytest.raises(SoiltrendError, match="'P' is no part of a summed exchange capacity"):
        why_share(soils(START, START), cation="P", **ENDS)
