"""The demo garden's files hold the printed figures, and tell the story that was meant."""

import importlib.util
import tomllib
from datetime import date
from pathlib import Path

import pandas as pd
import pint
import pytest
from molmass import Formula
from printed_figures import figures, grid

from soiltrend import vocabulary

SCRIPT = Path(__file__).parents[1] / "data_demo" / "generate.py"
TABLES = ("samples", "materials", "applications", "harvests", "observations")


@pytest.fixture(scope="module")
def demo():
    """The generator, loaded from its path."""
    spec = importlib.util.spec_from_file_location("demo_generate", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def folder(demo):
    return demo.FOLDER


@pytest.fixture(scope="module")
def prints(demo):
    return demo.prints()


def table(folder, name):
    """One of the grower's tables as text."""
    return pd.read_csv(folder / f"{name}.csv", comment="#", dtype=str, keep_default_na=False)


# The files as they lie in the folder


def test_every_figure_stands_in_its_file(demo, folder, prints):
    """The files hold the printed figures, all of them and no others, under their headings."""
    for report in demo.REPORTS:
        file = demo.report_file(report.stem, report.shape)
        told = {(p.sample, p.symbol): p.text for p in prints if p.file == file}
        found = figures(folder / file)
        if file.endswith(".json"):  # a number of this format has no closing noughts
            told = {key: f"{float(text):g}" if "<" not in text else text for key, text in told.items()}
            found = {key: f"{float(text):g}" if "<" not in text else text for key, text in found.items()}
        if file.endswith(".xls"):  # numbers are numbers there and bear no comma
            told = {key: text if "<" in text else text.replace(",", ".") for key, text in told.items()}
        heads = {name for _, name in found}
        symbols = sorted({symbol for _, symbol in told}, key=len, reverse=True)
        named = {head: next(s for s in symbols if head == s or head.startswith((f"{s} ",))) for head in heads}
        assert {(bag, named[name]): text for (bag, name), text in found.items()} == told


def test_headings_are_words_of_the_trade(prints):
    """Every heading names the analyte it stands for, but the one that no table knows."""
    pairs = {(p.symbol, p.analyte) for p in prints}
    assert {symbol for symbol, _ in pairs if not vocabulary.read_label(symbol).analyte} == {
        "Respiration burst"
    }
    assert [(s, a) for s, a in pairs if vocabulary.read_label(s).analyte != a] == []


@pytest.mark.parametrize(
    ("stem", "unit"), [("autumn-2023", "pound / acre"), ("autumn-2024-kestholm", "kg / hectare")]
)
def test_area_units_are_what_their_answers_say(demo, folder, prints, stem, unit):
    """mg/kg over the answered depth and density gives the printed amount per area (pint)."""
    said = tomllib.loads((folder / f"reports/{stem}.toml").read_text(encoding="utf-8"))
    ureg = pint.UnitRegistry()
    soil = ureg.Quantity(said["bulk_density"], "g/cm^3") * ureg.Quantity(said["depth_cm"], "cm")
    per_ppm = (ureg.Quantity(1, "mg/kg") * soil).to(unit).magnitude
    factor = next(p.factor for p in prints if stem in p.file and p.analyte == "K")
    oxide = Formula("K2O").mass / (2 * Formula("K").mass) if "kestholm" in stem else 1.0
    assert factor == pytest.approx(per_ppm * oxide, rel=1e-4)


# The story


def test_an_autumn_is_missing(folder):
    """Nothing was sampled between spring 2021 and spring 2022; every other half year was."""
    days = pd.to_datetime(table(folder, "samples")["sampled"])
    seen = set(days.dt.year.astype(str) + days.dt.month.lt(7).map({True: "S", False: "A"}))
    all_of_them = {f"{year}{half}" for year in range(2019, 2027) for half in "SA"} - {"2019S"}
    assert all_of_them - seen == {"2021A"}


def test_bags_are_named_once_and_stand_in_the_record(folder, prints):
    """Every label of a report is one line of samples.csv, with the layer and the day it was printed with."""
    samples = table(folder, "samples")
    assert samples["sample"].is_unique
    assert set(samples["sample"]) == {p.sample for p in prints}
    record = samples.set_index("sample")
    assert all(
        (record.at[p.sample, "bed"], record.at[p.sample, "sampled"], float(record.at[p.sample, "bottom_cm"]))
        == (p.bed, str(p.day), p.bottom_cm)
        for p in prints
    )


def test_duplicates_go_out_under_a_false_name(folder):
    """A hidden duplicate has the bed's own name in the record only; the laboratory saw an orchard."""
    samples = table(folder, "samples")
    hidden = samples[samples["sample"].str.match(r"OR-\d\d[SA]$")]
    assert len(hidden) == 6
    bed_of = samples.set_index("sample")["bed"]
    assert (bed_of[hidden["duplicate_of"]].to_numpy() == hidden["bed"].to_numpy()).all()
    beds = tomllib.loads((folder / "garden.toml").read_text(encoding="utf-8"))["beds"]
    assert "Orchard" not in beds
    assert "OR-23S Orchard" in [" ".join(row[:2]) for row in grid(folder / "reports/spring-2023.xlsx")]


def test_buckets_were_split_between_two_laboratories(folder):
    """In spring 2024 nine bags went to both laboratories, enough for a bridge (eight or more)."""
    samples = table(folder, "samples").set_index("sample")
    split = samples[samples.index.str.endswith("K")]
    ours, theirs = (
        figures(folder / f"reports/{stem}") for stem in ("spring-2024.xlsx", "spring-2024-kestholm.csv")
    )
    assert len(split) == 9
    assert {bag for bag, _ in theirs} == set(split.index)
    assert {bag.removesuffix("K") for bag in split.index} == {bag for bag, _ in ours}
    own = samples[~samples.index.str.endswith("K")]["duplicate_of"]
    first = {bag: own[bag] or bag for bag in own.index}
    assert split["duplicate_of"].tolist() == [first[bag.removesuffix("K")] for bag in split.index]


def test_the_laboratory_changed_its_extractant(folder, prints):
    """P went from Bray P1 to Mehlich-3 on the day that garden.toml states, and the figures with it."""
    labs = tomllib.loads((folder / "garden.toml").read_text(encoding="utf-8"))["labs"]
    told = labs["Orrelby Soil Room"]["answers"]
    assert [(a["from"], a["methods"]["P"], a["methods"]["K"]) for a in told] == [
        (date(2019, 1, 1), "Bray P1", "ammonium acetate"),
        (date(2021, 7, 1), "Mehlich-3", "Mehlich-3"),
    ]
    used = {(p.day >= date(2021, 7, 1), p.method) for p in prints if p.analyte == "P"}
    assert used == {(False, "Bray P1"), (True, "Mehlich-3")}
    check = {
        p.day.year: float(p.text) for p in prints if p.sample in ("GA-21S", "GA-22S") and p.analyte == "P"
    }
    assert 1.1 < check[2022] / check[2021] < 1.7  # 1.35 in Ohio soils: Culman et al. 2019, ANR-75


def test_figures_below_the_limit_are_printed_as_such(prints):
    """Boron hovers about its limit of 0.5 ppm: limits in both spellings, and figures beside them."""
    boron = [p.text for p in prints if p.analyte == "B"]
    below = [text for text in boron if text in ("<0.5", "<0,5", "ND")]
    assert {"<0.5", "<0,5", "ND"} == set(below)
    assert 0.1 < len(below) / len(boron) < 0.5
    assert not [p for p in prints if p.analyte != "B" and not p.text[0].isdigit()]


def test_one_figure_lost_its_decimal_point(folder, prints, demo):
    """Magnesium of Plum in autumn 2025 is printed ten times too large, and only that figure."""
    slip = [p for p in prints if p.outlier]
    assert [(p.sample, p.analyte) for p in slip] == [("PL-25A", "Mg")]
    assert figures(folder / slip[0].file)["PL-25A", "Mg"] == slip[0].text
    true = demo.TRUTH.values["Plum", "Mg", "Mehlich-3", date(2025, 10, 14), 15.0]
    assert 7 < float(slip[0].text) / true < 13


def test_one_bed_was_once_sampled_deeper(folder, demo):
    """Long Reach in autumn 2022 is 0-30 cm and poorer for it; every other sample is 0-15 cm."""
    samples = table(folder, "samples")
    assert samples.loc[samples["bottom_cm"] != "15", "sample"].tolist() == ["LR-22A"]
    key = ("Long Reach", "P", "Mehlich-3", date(2022, 10, 11), 30.0)
    beside = demo.soil.true_value("Long Reach", "P", method="Mehlich-3", day=date(2022, 10, 11))
    assert demo.TRUTH.values[key] < 0.8 * beside


def test_the_check_bed_got_nothing(folder):
    """Gatepost is the check and was never dressed; all other beds were."""
    beds = tomllib.loads((folder / "garden.toml").read_text(encoding="utf-8"))["beds"]
    assert [name for name, bed in beds.items() if bed.get("check")] == ["Gatepost"]
    assert set(beds) - set(table(folder, "applications")["bed"]) == {"Gatepost"}


def test_humus_creeps_up_where_compost_goes(demo):
    """Dressed beds gain 0.15 to 1.5 points of humus in seven years; the check and the limed bed do not."""
    first, last = date(2019, 10, 15), date(2026, 10, 13)
    gain = {
        bed: demo.TRUTH.values[bed, "OM", "LOI", last, 15.0]
        - demo.TRUTH.values[bed, "OM", "LOI", first, 15.0]
        for bed in demo.story.BED
    }
    assert all(
        0.15 < gain[bed] < 1.5 for bed in ("Ferry", "Plum", "Long Reach", "Zoë's Row", "Brûlé", "Kettle")
    )
    assert -0.3 < gain["Gatepost"] < 0 < gain["Lower Wall"] < 0.15


def test_potash_falls_on_brule(demo):
    """By one extractant, K of Brûlé falls every spring from 2022 and loses a quarter by 2026."""
    springs = [
        demo.TRUTH.values["Brûlé", "K", "Mehlich-3", day, 15.0]
        for day in (
            date(2022, 4, 12),
            date(2023, 4, 11),
            date(2024, 4, 9),
            date(2025, 4, 8),
            date(2026, 4, 14),
        )
    ]
    assert springs == sorted(springs, reverse=True)
    assert springs[-1] < 0.75 * springs[0]


def test_days_since_dressing_are_reckoned_from_the_dressings(folder):
    """The record agrees with applications.csv; the gypsum of March 2024 was twelve days old."""
    samples = table(folder, "samples")
    dressed = table(folder, "applications").assign(date=lambda t: pd.to_datetime(t["date"]))
    for row in samples.itertuples():
        before = dressed.loc[(dressed["bed"] == row.bed) & (dressed["date"] < row.sampled), "date"]
        days = str((pd.Timestamp(row.sampled) - before.max()).days) if len(before) else ""
        assert row.days_since_dressing == days
    assert samples.set_index("sample").at["ZR-24S", "days_since_dressing"] == "12"


@pytest.mark.parametrize("name", TABLES)
def test_tables_speak_of_known_beds_and_materials(folder, name):
    """Every bed is one of garden.toml and every material one of materials.csv."""
    beds = tomllib.loads((folder / "garden.toml").read_text(encoding="utf-8"))["beds"]
    rows = table(folder, name)
    assert len(rows) >= 8
    if name != "materials":
        assert set(rows["bed"]) <= set(beds)
    if name == "applications":
        assert set(rows["material"]) == set(table(folder, "materials")["material"])
        assert set(rows["unit"]) == {"kg", "g", "L", "g/m2"}


def test_names_keep_their_accents(folder):
    """Two beds have accents in the grower's files, which Orrelby's machine drops."""
    beds = set(table(folder, "harvests")["bed"])
    assert {"Brûlé", "Zoë's Row"} <= beds
    printed = {row[1] for row in grid(folder / "reports/autumn-2019.csv")}
    assert {"Brule", "Zoes Row"} <= printed


def test_the_laboratorys_words_stand_beside_thefigures(folder):
    """In spring 2025 P, K and Mg bear a word of the laboratory's own."""
    cells = figures(folder / "reports/spring-2025.pdf")
    words = {
        name.split()[0]: {text.partition(" ")[2] for (_, head), text in cells.items() if head == name}
        for name in {head for _, head in cells}
    }
    assert {name for name, told in words.items() if told != {""}} == {"P", "K", "Mg"}
    assert words["P"] | words["K"] | words["Mg"] == {"scant", "fair", "ample"}
