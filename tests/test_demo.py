"""The demo garden: the folder is the generator's, its truth closes, its reports tell the story."""

import importlib.util
import math
import subprocess
import sys
import zipfile
from datetime import date
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from molmass import Formula

SCRIPT = Path(__file__).parents[1] / "data_demo" / "generate.py"
LIMITS = 6.0  # standard deviations beyond which no printed figure may stray


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


def equivalent(element, charge):
    """mg/kg in one cmol/kg, from molmass (IUPAC atomic masses)."""
    return 10 * Formula(element).mass / charge


EQUIVALENT = {
    "Ca": equivalent("Ca", 2),
    "Mg": equivalent("Mg", 2),
    "K": equivalent("K", 1),
    "Na": equivalent("Na", 1),
}


# The folder


def test_the_folder_is_what_the_generator_makes(demo, folder, tmp_path):
    """Every file of the folder is the generator's, to the byte, and a second run makes the same."""
    demo.write(tmp_path)
    made = {
        path.relative_to(tmp_path).as_posix(): path.read_bytes()
        for path in tmp_path.rglob("*")
        if path.is_file()
    }
    there = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "out" not in path.relative_to(folder).parts
    }
    assert made.keys() == there.keys()
    assert [name for name in made if made[name] != there[name]] == []


def test_the_check_names_what_differs(demo, tmp_path):
    """A file changed, taken away or added is named."""
    demo.write(tmp_path)
    assert demo.check(tmp_path) == []
    (tmp_path / "samples.csv").write_text("sample\n")
    (tmp_path / "harvests.csv").unlink()
    (tmp_path / "letter.txt").write_text("")
    assert demo.check(tmp_path) == [
        "harvests.csv is missing",
        "letter.txt is not the generator's",
        "samples.csv differs",
    ]


def test_the_script_runs_from_anywhere(tmp_path):
    """The command with --check ends well, without writing anything where it was called."""
    run = subprocess.run(
        [sys.executable, str(SCRIPT), "--check"], cwd=tmp_path, capture_output=True, text=True
    )
    assert (run.returncode, run.stdout.strip()) == (0, "the folder is as the generator makes it")
    assert list(tmp_path.iterdir()) == []


def test_spreadsheets_carry_no_date_of_their_making(folder):
    """Every part of every spreadsheet bears one fixed day, inside and out."""
    for path in folder.glob("reports/*.xlsx"):
        with zipfile.ZipFile(path) as packed:
            assert {info.date_time for info in packed.infolist()} == {(2026, 11, 24, 0, 0, 0)}
        book = openpyxl.load_workbook(path)
        assert {book.properties.created.date(), book.properties.modified.date()} == {date(2026, 11, 24)}


def test_reports_come_in_every_shape(demo, folder):
    """Each shape of the catalogue is some report's, and every kind of file that is read is among them."""
    assert {report.shape for report in demo.REPORTS} == set(demo.SHAPES)
    endings = {path.suffix for path in folder.glob("reports/*")}
    assert endings == {".csv", ".json", ".pdf", ".toml", ".xls", ".xlsx", ".xml"}


def test_the_page_holds_no_date_and_lies_on_its_side(folder):
    """The PDF names no day of its making, and its places of objects are those where they stand."""
    raw = (folder / "reports/spring-2025.pdf").read_bytes()
    assert b"Date" not in raw
    assert b"/Rotate 90" in raw
    starts = [int(line[:10]) for line in raw.split(b"xref\n")[1].split(b"\n")[2:7]]
    assert [raw[start : start + 7] for start in starts] == [b"%d 0 obj" % number for number in range(1, 6)]
    assert raw[int(raw.split(b"startxref\n")[1].split(b"\n")[0]) :].startswith(b"xref")


# The truth


def test_charge_closes(demo):
    """CEC is the sum of the bases, by IUPAC atomic masses (molmass), and the acidity."""
    values = demo.TRUTH.values
    sums = {key: value for key, value in values.items() if key[1] == "CEC"}
    days = {str(day) for _, _, _, day, _ in sums}
    assert days == set(table(demo.FOLDER, "samples")["sampled"])
    assert len(sums) == 8 * len(days)
    for (bed, _, method, day, bottom), cec in sums.items():
        bases = sum(values[bed, base, method, day, bottom] / per for base, per in EQUIVALENT.items())
        assert cec == pytest.approx(bases + values[bed, "acidity", "", day, bottom], rel=2e-4)


def test_saturations_fill_the_exchange_capacity(demo):
    """The shares of a bed on a day come to 100 %, and each is its own part of CEC."""
    values = demo.TRUTH.values
    for bed, analyte, method, day, bottom in [key for key in values if key[1] == "K saturation"]:
        place = (method, day, bottom)
        shares = [values[(bed, f"{part} saturation", *place)] for part in ("Ca", "Mg", "K", "Na", "acidity")]
        assert sum(shares) == pytest.approx(100.0)
        k = values[(bed, "K", *place)] / EQUIVALENT["K"] / values[(bed, "CEC", *place)]
        assert values[(bed, analyte, *place)] == pytest.approx(100 * k, rel=2e-4)


def test_acidity_follows_the_buffer(demo):
    """Acidity is 12 x (7 - buffer pH): Crop File 1.04.132, What is base saturation (SMP, Sikora)."""
    values = demo.TRUTH.values
    pairs = [
        (value, values[bed, "acidity", "", day, bottom])
        for (bed, analyte, _, day, bottom), value in values.items()
        if analyte == "buffer pH"
    ]
    assert [acidity for _, acidity in pairs] == pytest.approx([12 * (7 - buffer) for buffer, _ in pairs])
    assert min(acidity for _, acidity in pairs) == 0.0
    assert max(acidity for _, acidity in pairs) > 2.5


def test_a_dressing_of_gypsum_by_hand(demo):
    """80 g/m2 of gypsum at 21.4 % Ca on Plum: kg/ha = mg/kg x bulk density x depth x 0.1, all on paper.

    The rule by which two million pounds to the acre furrow slice (6.7 in at 1.33 g/cm3) is
    reckoned: Penn State Extension, What is an acre furrow slice of soil?
    """
    kg_per_ha = 80 * 0.214 * 10
    whole = kg_per_ha / (1.20 * 15 * 0.1)
    assert whole == pytest.approx(95.11, abs=0.005)
    bed, before, after = demo.story.BED["Plum"], date(2025, 4, 30), date(2025, 5, 1)
    jump = demo.soil.added(bed, "Ca", after) - demo.soil.added(bed, "Ca", before)
    assert jump == pytest.approx(whole * demo.TRUTH.recovery["gypsum", "Ca"])
    assert demo.soil.pool(bed, "Ca", after) - demo.soil.pool(bed, "Ca", before) == pytest.approx(
        jump, abs=0.05
    )


def test_lime_turns_acidity_into_calcium_one_for_one(demo):
    """500 mg CaCO3/kg meet 1 cmol/kg (10 x 100.09 / 2); lime beyond that is carbonate.

    The extractant dissolves part of it, and Ca and CEC look swollen.
    """
    assert pytest.approx(10 * Formula("CaCO3").mass / 2, rel=1e-4) == demo.soil.LIME_PER_CMOL
    bed, before, after = demo.story.BED["Lower Wall"], date(2020, 11, 14), date(2020, 11, 15)
    cmol = 6500 * 1.20 / 12.6 / (1.20 * 15 * 0.01) / demo.soil.LIME_PER_CMOL
    met = demo.soil.unmet_acidity(bed, before) - demo.soil.unmet_acidity(bed, after)
    assert met == pytest.approx(cmol, abs=0.001)
    day = date(2022, 4, 12)
    held = {
        bed: {
            name: demo.TRUTH.values[bed, name, method, day, 15.0]
            for name, method in (("pH", "water 1:1"), ("Ca", "Mehlich-3"), ("CEC", "Mehlich-3"))
        }
        for bed in ("Lower Wall", "Gatepost")
    }
    assert held["Lower Wall"]["pH"] > 7.3
    assert held["Lower Wall"]["Ca"] > 1.8 * held["Gatepost"]["Ca"]
    assert held["Lower Wall"]["CEC"] > 1.4 * held["Gatepost"]["CEC"]


@pytest.mark.parametrize(
    ("material", "element", "formula", "purity"),
    [
        ("gypsum", "Ca", "CaSO4(H2O)2", 0.92),
        ("gypsum", "S", "CaSO4(H2O)2", 0.92),
        ("Epsom salt", "Mg", "MgSO4(H2O)7", 1.0),
        ("Epsom salt", "S", "MgSO4(H2O)7", 1.0),
        ("borax", "B", "Na2B4O7(H2O)10", 1.0),
        ("borax", "Na", "Na2B4O7(H2O)10", 1.0),
        ("zinc sulfate", "Zn", "ZnSO4(H2O)7", 1.0),
        ("ground mussel shell", "Ca", "CaCO3", 0.91),
        ("shells in vinegar", "Ca", "Ca(CH3COO)2", 0.95),
    ],
)
def test_materials_hold_what_their_formula_says(folder, material, element, formula, purity):
    """The analysis of a pure material follows its formula (molmass), at the purity its source states."""
    row = table(folder, "materials").set_index("material").loc[material]
    share = Formula(formula).composition()[element].fraction
    assert float(row[element]) == pytest.approx(100 * share * purity, rel=0.005)
    assert float(row[f"{element}_low"]) < float(row[element]) <= float(row[f"{element}_high"])


def test_liming_materials_carry_their_calcium(folder):
    """A CCE of 100 % is 40.04 % Ca (CaCO3 by molmass); gypsum limes nothing."""
    rows = table(folder, "materials").set_index("material")
    calcium = 100 * Formula("CaCO3").composition()["Ca"].fraction
    for material in ("ground mussel shell", "builders' lime"):
        assert float(rows.at[material, "Ca"]) == pytest.approx(
            float(rows.at[material, "CCE"]) * calcium / 100, rel=0.01
        )
    assert float(rows.at["gypsum", "CCE"]) == 0.0


def test_leaf_mould_lies_in_the_published_range(folder):
    """Heckman & Kluchinski 1996, J. Environ. Qual. 25:355: municipal leaves, median and range of 100."""
    row = table(folder, "materials").set_index("material").loc["leaf mould"]
    published = {
        "N": (0.66, 0.94, 1.62),
        "P": (0.02, 0.10, 0.29),
        "K": (0.09, 0.36, 0.88),
        "Ca": (0.13, 1.73, 3.04),
    }
    assert {
        n: tuple(float(row[f"{n}{part}"]) for part in ("_low", "", "_high")) for n in published
    } == published


# The reports against the truth


def _size(truth, print_):
    """The standard deviation of a printed figure with its own number of cores, on its scale."""
    cores = truth.shares["cores"] * 15 / print_.cores
    return truth.sd[print_.analyte] * math.sqrt(1 - truth.shares["cores"] + cores)


def _expected(truth, print_):
    """The truth of a printed figure with the laboratory's lasting bias, in the printed unit."""
    true = truth.values[print_.bed, print_.analyte, print_.method, print_.day, print_.bottom_cm]
    return true * math.exp(truth.bias[print_.lab].get(print_.analyte, 0.0)) * print_.factor


def _strays(truth, prints):
    """How many SDs each measured figure strays, and its rounding in SDs; a limit stands for its value."""
    rows = []
    for p in prints:
        if p.derived or not p.analyte or p.outlier or p.text == "ND":
            continue
        value, half = float(p.text.split(" ")[0].lstrip("<").replace(",", ".")), 0.5 * 10.0**-p.decimals
        true, plain = _expected(truth, p), p.analyte in truth.plain
        if true == 0.0:
            assert value == 0.0
            continue
        off = value - true if plain else math.log(value / true)
        slack = half if plain else half / value
        rows.append((p, off / _size(truth, p), slack / _size(truth, p)))
    return rows


def test_every_figure_is_the_truth_and_noise(demo, prints):
    """No figure strays more than six standard deviations from the truth; a limit is never six below it."""
    rows = _strays(demo.TRUTH, prints)
    assert len(rows) > 1500
    far = [
        (p.file, p.sample, p.symbol, p.text, z)
        for p, z, slack in rows
        if (z < -LIMITS - slack if p.text.startswith("<") else abs(z) > LIMITS + slack)
    ]
    assert far == []


def test_the_noise_has_the_stated_size(demo, prints):
    """The figures stray as far as the truth says, over all and for each analyte: neither more nor less.

    Shares common to a composite or a day leave fewer independent figures than there are
    figures, so the band of one analyte is wide.
    """
    z = pd.DataFrame(
        [(p.analyte, z) for p, z, _ in _strays(demo.TRUTH, prints) if not p.text.startswith("<")],
        columns=["analyte", "z"],
    )
    assert 0.9 < np.sqrt((z["z"] ** 2).mean()) < 1.1
    each = z.groupby("analyte")["z"].apply(lambda x: np.sqrt((x**2).mean()))
    assert each.between(0.6, 1.5).all(), each


def test_components_are_shared_as_said(demo):
    """A hidden duplicate shares the day and the cores of its bucket and has its own subsample and reading."""
    assert sum(demo.TRUTH.shares.values()) == pytest.approx(1.0)
    assert math.sqrt(demo.TRUTH.shares["occasion"]) == 0.5
    report = next(r for r in demo.REPORTS if r.stem == "spring-2024")
    bags = {bag.label: bag for bag in demo.samples(report)}
    one, two, other = (
        demo.soil.strays("K", sample=bags[label], lab=report.lab) for label in ("GA-24S", "OR-24S", "FE-24S")
    )
    assert (one["occasion"], one["cores"]) == (two["occasion"], two["cores"])
    assert one["laboratory"] != two["laboratory"]
    assert one["preparation"] != two["preparation"]
    assert one["occasion"] == other["occasion"]
    assert one["cores"] != other["cores"]


def test_the_laboratory_sums_what_it_prints(prints):
    """Orrelby's CEC is its own bases by atomic masses and 12 x (7 - buffer pH), within rounding.

    Buffer pH rounds to 0.005, so acidity to 0.06; CEC itself to 0.05. Where Orrelby ran no
    buffer (pH of 7 or more) it counts no acidity. One bag does not sum: the slipped figure.
    """
    off = {}
    for sample in {p.sample for p in prints if p.lab.startswith("Orrelby")}:
        bag = {p.analyte: p for p in prints if p.sample == sample}
        value = {
            a: float(p.text.split(" ")[0]) / p.factor
            for a, p in bag.items()
            if p.text[0].isdigit() and p.analyte
        }
        acidity = max(0.0, 12 * (7 - value["buffer pH"])) if "buffer pH" in value else 0.0
        off[sample] = sum(value[b] / per for b, per in EQUIVALENT.items()) + acidity - value["CEC"]
    assert {sample for sample, gap in off.items() if abs(gap) > 0.15} == {"PL-25A"}
    slip = next(float(p.text) for p in prints if p.outlier)
    assert off["PL-25A"] == pytest.approx(0.9 * slip / EQUIVALENT["Mg"], abs=0.15)
