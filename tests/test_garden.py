"""A grower's folder becomes one garden: nothing lost, nothing guessed, nothing written."""

import hashlib
import shutil
from pathlib import Path

import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.compare import compare
from soiltrend.errors import GardenError
from soiltrend.garden import account, cautions, open_garden, reasons
from soiltrend.garden.account import missing
from soiltrend.plan import plan
from soiltrend.sampling import sampling_plan

DEMO = Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps"
TOML = """\
name = "Two beds"
[beds."East"]
area_m2 = 12.0
depth_cm = 20
aliases = ["E1"]
[beds."NA"]
area_m2 = 3.5
check = true
"""
REPORT = """\
Sample,Date sampled,Lab,pH,K (Mehlich-3) ppm
East,2024-04-12,Hollin Bench,6.4,142
NA,2024-04-12,Hollin Bench,7.0,88
"""


@pytest.fixture
def folder(tmp_path):
    """Return a function that writes a small garden folder and returns its path."""

    def make(**files):
        (tmp_path / "reports").mkdir(exist_ok=True)
        for name, text in {"garden.toml": TOML, "reports/spring.csv": REPORT, **files}.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path

    return make


@pytest.fixture(scope="module")
def demo():
    return open_garden(DEMO)


def hashes(path):
    """Return the digest of every file that is the grower's own."""
    own = [file for file in sorted(path.rglob("*")) if file.is_file() and "out" not in file.parts]
    return {file: hashlib.sha256(file.read_bytes()).hexdigest() for file in own}


def test_a_small_garden_is_read(folder):
    """Two beds, one of them called NA, four values with season, layer and source."""
    garden = open_garden(folder())
    assert garden.name == "Two beds"
    assert garden.beds["bed"].tolist() == ["East", "NA"]
    assert garden.beds["check"].tolist() == [False, True]
    assert len(garden.results) == 4
    assert garden.set_aside.empty
    east = garden.results.query("bed == 'East' and analyte == 'K'").iloc[0]
    assert (east["value"], east["season"], east["method"]) == (142.0, "spring 2024", "Mehlich-3")
    assert (east["top_cm"], east["bottom_cm"]) == (0.0, 20.0)
    assert east["source"] == "reports/spring.csv"


def test_every_value_of_the_demo_garden_is_accounted_for(demo):
    """Found is read plus set aside, file by file, and no file is missing."""
    table = account(demo).table
    assert (table["found"] == table["read"] + table["set aside"]).all()
    reports = {f"reports/{file.name}" for file in (DEMO / "reports").iterdir() if file.suffix != ".toml"}
    assert reports | {"observations.csv"} == set(table["file"])
    assert table["found"].sum() == len(demo.results) + len(demo.set_aside)


def test_opening_a_garden_changes_no_file(folder):
    """The grower's files are the same to the byte."""
    path = folder()
    before = hashes(path)
    open_garden(path)
    assert hashes(path) == before


def test_a_season_follows_the_hemisphere(folder):
    """April is autumn in the south."""
    garden = open_garden(folder(**{"garden.toml": 'hemisphere = "south"\n' + TOML}))
    assert set(garden.results["season"]) == {"autumn 2024"}


@pytest.mark.parametrize("own", ["north", "south"])
def test_a_report_lies_in_the_hemisphere_of_its_garden(folder, own):
    """An answer that says the other one is no answer: the file waits, and is told which line contradicts."""
    garden = open_garden(folder(**{"reports/report.toml": f'hemisphere = "{own}"\n'}))
    assert len(garden.results) == (4 if own == "north" else 0)
    said = "spring.csv: hemisphere = 'south' in the answers, 'north' in garden.toml. A garden lies in one"
    assert any(said in reason for reason in garden.set_aside["reason"]) == (own == "south")


@pytest.mark.parametrize("written", ["east", " EAST ", "Bed East", "e1", "bed E1"])
def test_a_bed_is_found_however_it_is_written(folder, written):
    """Case, spaces, a leading "Bed" and aliases make no difference."""
    garden = open_garden(folder(**{"reports/spring.csv": REPORT.replace("East", written)}))
    assert set(garden.results["bed"]) == {"East", "NA"}


def test_a_strange_bed_is_set_aside_with_its_nearest_name(folder):
    """Nothing is filed by guess: the value waits, and the reason names the nearest bed."""
    garden = open_garden(folder(**{"reports/spring.csv": REPORT.replace("East", "Eest")}))
    assert set(garden.results["bed"]) == {"NA"}
    assert garden.set_aside["text"].tolist() == ["6.4", "142"]
    assert "nearest: 'East'" in garden.set_aside["reason"][0]


def test_the_sampling_record_tells_bed_day_and_layer(folder):
    """The grower's own record wins over what the laboratory printed, and a differing day is said."""
    record = "sample,bed,sampled,top_cm,bottom_cm,days_since_dressing\nK-7,East,2024-04-02,0,10,12\n"
    report = "Sample,Date sampled,pH\nK-7,2024-04-12,6.4\n"
    row = open_garden(folder(**{"reports/spring.csv": report, "samples.csv": record})).results.iloc[0]
    assert (row["bed"], row["sampled"], row["bottom_cm"]) == ("East", pd.Timestamp("2024-04-02"), 10.0)
    assert row["note"] == "the report gives the day as 2024-04-12; sampled 12 days after a dressing"


def test_a_label_used_every_year_is_told_apart_by_its_day(folder):
    """Sample 1 of 2023 and sample 1 of 2024 are two samples, in two beds."""
    record = "sample,bed,sampled\n1,East,2023-04-02\n1,NA,2024-04-02\n"
    report = "Sample,Date sampled,pH\n1,2023-04-02,6.1\n1,2024-04-02,7.2\n"
    results = open_garden(folder(**{"reports/spring.csv": report, "samples.csv": record})).results
    assert dict(zip(results["bed"], results["value"], strict=True)) == {"East": 6.1, "NA": 7.2}


@pytest.mark.parametrize("top", ["", "0"])
def test_a_layer_of_which_only_the_lower_end_is_stated_begins_at_the_surface(folder, top):
    """Stated in one year and not in the other it is one layer, and the two compare."""
    report = "Sample,Bed,Date sampled,K (Mehlich-3) ppm\n" + "".join(
        f"S{year},East,{year}-04-01,{value}\n" for year, value in ((2022, 100), (2024, 160))
    )
    record = f"sample,bed,sampled,top_cm,bottom_cm\nS2022,East,2022-04-01,,\nS2024,East,2024-04-01,{top},20\n"
    garden = open_garden(folder(**{"reports/spring.csv": report, "samples.csv": record}))
    assert garden.results["top_cm"].tolist() == [0.0, 0.0]
    found = compare(garden.results, before="spring 2022", after="spring 2024").table
    assert found.loc[0, ["n_before", "n_after", "change"]].tolist() == [1, 1, pytest.approx(60)]


def test_a_record_of_another_year_does_not_claim_a_sample(folder):
    """A label recorded only for 2024 says nothing of a report of 2020."""
    record = "sample,bed,sampled\n1,East,2024-04-02\n"
    report = "Sample,Date sampled,pH\n1,2020-04-02,6.1\n"
    garden = open_garden(folder(**{"reports/spring.csv": report, "samples.csv": record}))
    assert garden.results.empty
    assert "'1' is not a bed of this garden" in garden.set_aside["reason"][0]


def test_answers_beside_a_report_serve_it_and_the_files_own_win(folder):
    """report.toml holds for all files, the file's own toml for one, and wins."""
    report = "Sample,pH,K\nEast,6.4,142\n"
    tomls = {
        "reports/report.toml": 'lab = "Hollin Bench"\nsampled = 2024-04-12\n[units]\nK = "mg/kg"\n',
        "reports/spring.toml": 'lab = "Carrow Bench"\n[methods]\nK = "Olsen"\n',
    }
    results = open_garden(folder(**{"reports/spring.csv": report, **tomls})).results
    assert set(results["lab"]) == {"Carrow Bench"}
    assert results.query("analyte == 'K'")["method"].tolist() == ["Olsen"]


def test_a_labs_answers_hold_from_their_day(folder):
    """garden.toml says which extractant a laboratory used from when."""
    held = TOML + (
        '[[labs."Hollin Bench".answers]]\nmethods = {P = "Olsen"}\n'
        '[[labs."Hollin Bench".answers]]\nfrom = 2024-01-01\nmethods = {P = "Mehlich-3"}\n'
    )
    head = "Sample,Date sampled,Lab,P ppm\n"
    results = open_garden(
        folder(
            **{
                "garden.toml": held,
                "reports/spring.csv": head + "East,2023-04-12,Hollin Bench,30\n",
                "reports/later.csv": head + "East,2024-04-12,Hollin Bench,31\n",
            }
        )
    ).results
    assert results.sort_values("sampled")["method"].tolist() == ["Olsen", "Mehlich-3"]


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("reports/broken.xlsx", b"no workbook", "broken.xlsx"),
        ("reports/photo.heic", b"\x00\x01", "a file ending in '.heic' is not a report"),
        (
            "reports/copy.csv",
            REPORT.encode(),
            "the same as reports/copy.csv, to the byte|the same as reports/spring",
        ),
    ],
)
def test_a_file_that_cannot_be_used_is_set_aside_whole(folder, name, data, said):
    """One bad file does not stop the garden; it is named with its reason, and the rest is read."""
    path = folder()
    (path / name).write_bytes(data)
    garden = open_garden(path)
    assert len(garden.results) == 4
    assert garden.set_aside["place"].tolist() == ["the whole file"]
    assert garden.set_aside["reason"].str.contains(said).all()


def test_of_two_copies_the_one_with_answers_is_read(folder):
    """A copy sorts before the file that has answers of its own: that one is read, and the copy named."""
    path = folder(**{"reports/spring.toml": 'lab = "Hollin Bench"\n'})
    (path / "reports/spring copy.csv").write_bytes((path / "reports/spring.csv").read_bytes())
    garden = open_garden(path)
    assert set(garden.results["source"]) == {"reports/spring.csv"}
    assert garden.set_aside["source"].tolist() == ["reports/spring copy.csv"]
    assert garden.set_aside["reason"].str.contains("the same as reports/spring.csv, to the byte").all()


def test_numeric_observations_are_rows_like_any_other(folder):
    """What the spade found stands in the tidy frame; words stay in the observations."""
    told = "date,bed,measure,value,unit\n2024-04-12,east,VESS,2.5,\n2024-04-12,East,tilth,crumbly,\n"
    garden = open_garden(folder(**{"observations.csv": told}))
    row = garden.results.query("analyte == 'structure score'").iloc[0]
    assert (row["bed"], row["value"], row["unit"], row["source"]) == (
        "East",
        2.5,
        "score",
        "observations.csv",
    )
    assert garden.observations["value"].tolist() == ["2.5", "crumbly"]


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"garden.toml": 'name = "x"\n'}, "no bed is described"),
        ({"garden.toml": TOML.replace("12.0", "-1")}, "area_m2 = -1 is not a positive number"),
        ({"garden.toml": TOML.replace("= 20", "= 1500")}, "depth_cm = 1500 is more than the 200"),
        (
            {"garden.toml": TOML.replace("depth_cm = 20", "bulk_density = 1300")},
            "bulk_density = 1300 is more than the 2.65 that a soil can have. Write it in g/cm3, such as 1.3",
        ),
        (
            {"garden.toml": TOML.replace("area_m2 = 12.0", "aera_m2 = 12.0")},
            "'aera_m2' is not a key known here",
        ),
        ({"garden.toml": TOML.replace("check = true", 'ended = "2024"')}, "ended = '2024' is no day"),
        ({"garden.toml": TOML.replace("true", '"yes"')}, "check = 'yes' is neither true nor false"),
        ({"garden.toml": TOML.replace('"East"', '"(garden)"')}, r"no bed may be called '\(garden\)'"),
        ({"garden.toml": TOML.replace('"E1"', '"na"')}, "'NA' could mean bed 'East' or bed 'NA'"),
        ({"garden.toml": 'hemisphere = "up"\n' + TOML}, "hemisphere = 'up'"),
        ({"garden.toml": TOML + '[[labs."L".answers]]\nfrom = "2024"\n'}, "from = '2024' is no day"),
        (
            {"applications.csv": "date,bed,material,amount,unit\n2024-04-12,West,lime,1,kg\n"},
            "line 2: 'West' is not a bed",
        ),
        (
            {"harvests.csv": "date,bed,crop,kg\n2024-07-01,East,leeks,lots\n"},
            "line 2: kg 'lots' is not a number",
        ),
        (
            {"observations.csv": "date,bed,measure,value,unit\n2024-04-12,East,VESS,2,kg\n"},
            "line 2: 'structure score' of 2 kg is kept in 'score' and not in 'kg'",
        ),
    ],
)
def test_a_folder_that_contradicts_itself_is_refused(folder, files, said):
    """The grower's own files are checked before anything is computed; the error names file and place."""
    with pytest.raises(GardenError, match=said) as caught:
        open_garden(folder(**files))
    assert str(caught.value).startswith(next(iter(files)))


def test_a_folder_without_garden_toml_says_how_to_begin(tmp_path):
    """The message names the remedy."""
    with pytest.raises(GardenError, match=r"no file garden\.toml"):
        open_garden(tmp_path)


def test_a_garden_without_reports_is_an_empty_garden(folder):
    """Beds alone are a beginning."""
    path = folder()
    shutil.rmtree(path / "reports")
    garden = open_garden(path)
    assert len(garden.results) == 0
    assert list(garden.results.columns) == list(frames.RESULTS)
    assert "0 values read" in repr(garden)


def test_reasons_and_cautions_group_what_they_list(demo):
    """Every value set aside is counted under one reason; every caution names its beds."""
    listing = reasons(demo).table
    assert listing["values"].sum() == len(demo.set_aside)
    assert not listing["reason"].eq("").any()
    noted = cautions(demo.results).table
    assert noted["rows"].sum() == (demo.results["note"] != "").sum()


def test_a_bad_row_is_listed_once_with_all_its_headings(folder):
    """Three values of a row of means are set aside for one reason; each stays a row of what was set aside."""
    report = "Sample,Sampled,pH,OM %,K ppm\nEast,2024-04-12,6.4,3.8,142\nMean,,6.4,3.8,142\n"
    garden = open_garden(folder(**{"reports/spring.csv": report}))
    assert garden.set_aside["label"].tolist() == ["pH", "OM %", "K ppm"]
    assert reasons(garden).table.to_numpy().tolist() == [[
        "reports/spring.csv", "pH, OM %, K ppm", 3, "line 3, column 'pH'", "6.4",
        "its row, 'Mean', sums up other rows and is no sample",
    ]]


def test_the_garden_shows_itself(demo):
    """In text and in HTML, one row a season; the missed autumn is not invented."""
    assert "Oxmarrow Steps: 8 beds" in repr(demo)
    assert "<table" in demo._repr_html_()
    assert "autumn 2021" not in demo.table["season"].tolist()


def test_organic_matter_without_a_method_is_asked_for(folder):
    """What is burnt off and what is oxidised are two numbers; a texture has no method to ask for."""
    report = "Bed,Date sampled,Lab,OM %,clay %\nEast,2024-04-12,Hollin Bench,4.2,18\n"
    told = missing(open_garden(folder(**{"reports/spring.csv": report}))).table
    asked = told[told["missing"].str.startswith("the method of")]
    assert asked["missing"].tolist() == ["the method of OM is not told in reports/spring.csv"]
    assert asked["so"].iloc[0].endswith('methods = { "OM" = "its method" }')


def test_the_tests_that_a_trend_takes_are_told_as_the_trend_counts_them(folder):
    """Three tests make one (soiltrend.slopes), and a bed of one test is told so."""
    garden = open_garden(folder(**{"reports/spring.csv": REPORT}))
    told = missing(garden).table.set_index("missing")["so"]
    assert told["bed 'East' has one test only"] == "two make a difference, three or more a trend"


def test_samples_of_a_season_are_the_bags_that_were_tested(folder):
    """A bag without a label of its own counts by its bed, and what was seen in a bed is no bag."""
    report = "Bed,Date sampled,pH,K (Mehlich-3) ppm\nEast,2024-04-12,6.4,142\nNA,2024-04-12,7.0,88\n"
    seen = "bed,date,measure,value\nEast,2024-04-12,worms,9\nEast,2024-10-01,worms,7\n"
    told = open_garden(folder(**{"reports/spring.csv": report, "observations.csv": seen})).table
    assert told[["season", "samples", "values"]].to_numpy().tolist() == [
        ["spring 2024", 2, 5], ["autumn 2024", 0, 1]
    ]


BAGS = "sample,bed,sampled,top_cm,bottom_cm\nA1,East,2024-04-12,0,30\nA2,NA,2024-04-12,0,30\n"
BY_REF = "Ref;Bed;Sampled;pH\nA1;East;2024-04-12;6.4\nA2;NA;2024-04-12;6.1\n"


def of_bags(garden):
    """The remarks on bags that no report names."""
    return [note for note in garden.notes if "no sample of a report" in note]


def test_bags_are_found_under_the_heading_ref(folder):
    """Where no other column names the samples, "Ref" does, and the record of each bag is used."""
    garden = open_garden(folder(**{"reports/spring.csv": BY_REF, "samples.csv": BAGS}))
    assert garden.results["sample"].tolist() == ["A1", "A2"]
    assert set(garden.results["bottom_cm"]) == {30.0}
    assert of_bags(garden) == []


def test_bags_that_no_report_of_their_days_names_are_remarked_on(folder):
    """Counted and named; one of a later day is on its way, one set aside is met."""
    report = REPORT.replace("East,", "A2,") + "K7,2024-04-12,Hollin Bench,77,\n"
    more = "".join(f"B{n},East,2024-04-13,0,30\n" for n in range(6))
    late = "L1,East,2024-06-02,0,30\nK7,East,2024-04-12,0,30\n"
    last = report + "NA,2024-06-01,Hollin Bench,6.9,88\n"
    garden = open_garden(folder(**{"reports/spring.csv": last, "samples.csv": BAGS + more + late}))
    assert of_bags(garden) == [
        "samples.csv: 7 bags match no sample of a report of those days (A1, B0, B1, B2, B3 ...), and what "
        "you noted of them is not used; write there the label that the report bears"
    ]


def test_a_label_in_the_column_of_the_bed_is_that_sample(folder):
    """Where a laboratory heads its labels "Field", the record of each bag is found and used in full."""
    bags = BAGS + "Far 2024,East,2024-04-12,0,30\na1,NA,2023-04-12,0,25\n"
    report = "Field,Date sampled,pH\nA1,2024-04-12,6.4\nA2,2024-04-12,6.1\nFar 2024,2024-04-12,6.5\n"
    garden = open_garden(folder(**{"reports/spring.csv": report, "samples.csv": bags}))
    assert garden.results["sample"].tolist() == ["A1", "A2", "Far 2024"]
    assert garden.results["bed"].tolist() == ["East", "NA", "East"]
    assert set(garden.results["bottom_cm"]) == {30.0}
    assert of_bags(garden) == []


def test_a_bed_that_bears_the_label_of_another_day_keeps_its_bed(folder):
    """A field named in the record of one year stays that bed in a report of the next, without a label."""
    report = "Field,Date sampled,pH\nA1,2026-04-12,6.4\n"
    garden = open_garden(folder(**{"reports/spring.csv": report, "samples.csv": BAGS}))
    assert garden.results[["bed", "sample"]].to_numpy().tolist() == [["East", ""]]


def test_a_label_of_another_year_is_no_match(folder):
    """Bag 1 of last year and of this: the test of one year names the bag of that year alone."""
    report = "Sample,Date sampled,pH\nA1,2024-04-12,6.4\nNA,2023-04-12,6.6\n"
    garden = open_garden(
        folder(**{"reports/spring.csv": report, "samples.csv": "sample,bed,sampled\nA1,East,2023-04-12\n"})
    )
    assert "1 bag matches no sample of a report of those days (A1)" in of_bags(garden)[0]


def test_no_bag_of_the_demo_garden_is_lost(demo):
    """Every bag there whose days were tested is named by a report."""
    assert of_bags(demo) == []


def test_a_bed_that_ended_keeps_its_record_and_is_not_planned_for(folder):
    """Split or given up: its tests stay, and from then on there is nothing to sample or to dress."""
    log = "date,bed,material,amount,unit\n2024-05-02,NA,garden compost,5,kg\n2024-05-02,East,gypsum,1,kg\n"
    toml = TOML.replace("check = true", "ended = 2025-03-01")
    garden = open_garden(folder(**{"garden.toml": toml, "applications.csv": log}))
    assert garden.still(pd.Timestamp("2025-02-28")).beds["bed"].tolist() == ["East", "NA"]
    assert garden.still(pd.Timestamp("2025-03-01")).beds["bed"].tolist() == ["East"]
    assert set(garden.results["bed"]) == {"East", "NA"}
    assert set(plan(garden, season="spring 2026").expected["bed"]) == {"East"}
    assert set(sampling_plan(garden, season="spring 2026").table["bed"]) == {"East"}
    gone = toml.replace("depth_cm = 20", "ended = 2025-03-01")
    with pytest.raises(GardenError, match=r"^garden\.toml: every bed has ended by 2026-"):
        plan(open_garden(folder(**{"garden.toml": gone})), season="spring 2026")


def test_the_faults_of_all_tables_are_told_at_once(folder):
    """Three files with a slip each: one round of mending, and not three."""
    head = "date,bed,material,amount,unit\n"
    files = {
        "applications.csv": head + "2024-04-12,West,lime,1,kg\n",
        "harvests.csv": "date,bed,crop,kg\n2024-07-01,East,leeks,lots\n",
        "samples.csv": "sample,bed,sampled\nA1,East,12.4.2024\n",
    }
    with pytest.raises(GardenError) as caught:
        open_garden(folder(**files))
    lines = str(caught.value).splitlines()
    assert lines[0] == "3 of the garden's files are not understood:"
    assert sorted(line.split(":")[0] for line in lines[1:]) == sorted(files)
    assert "line 2: kg 'lots' is not a number" in str(caught.value)
