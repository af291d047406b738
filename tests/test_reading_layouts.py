"""Wilder layouts: headers of several rows, groups, one-sample sheets, several tables."""

import openpyxl
import pytest

from soiltrend import frames
from soiltrend.errors import ReadError
from soiltrend.reading import read_report


@pytest.fixture
def read(tmp_path):
    """Read rows as a text file or as a workbook with merged ranges."""

    def _read(rows, *, merged=(), answers=None):
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        for area in merged:
            book.active.merge_cells(area)
        book.save(tmp_path / "report.xlsx")
        reading = read_report(tmp_path / "report.xlsx", answers=answers)
        frames.check(reading.results)
        return reading

    return _read


def values(reading):
    """Return {(sample, analyte, method): value} of a reading."""
    return {(row[0], row[1], row[2]): row[3] for row in
            reading.results[["sample", "analyte", "method", "value"]].itertuples(index=False)}


def test_a_heading_over_two_rows(read):
    """"Organic" over "matter" is one heading, and so is "Sample" over "ID"."""
    reading = read([["Sample", "Organic", "Soil", "Phosphorus"], ["ID", "matter %", "pH", "Olsen mg/kg"],
                    ["A", 3.5, 6.4, 22]])
    assert values(reading) == {("A", "OM", ""): 3.5, ("A", "pH", ""): 6.4, ("A", "P", "Olsen"): 22.0}


def test_merged_headings_over_units(read):
    """One analyte in two units side by side: the plain one is kept, the other is its twin."""
    reading = read([["Sample", "P", None, "K", None], [None, "ppm", "lb/ac", "ppm", "lb/ac"],
                    ["A", 20, 40, 120, 240]], merged=["A1:A2", "B1:C1", "D1:E1"])
    assert values(reading) == {("A", "P", ""): 20.0, ("A", "K", ""): 120.0}
    assert all("the same measurement" in reason for reason in reading.set_aside["reason"])


def test_merged_groups_of_methods(read):
    """A method over a merged range holds for the columns under it and no further."""
    reading = read([[None, None, "Mehlich-3 (ppm)", None, "DTPA (ppm)"], ["Sample", "pH", "P", "K", "Zn"],
                    ["A", 6.4, 22, 120, 1.5]], merged=["C1:D1"])
    assert values(reading) == {("A", "pH", ""): 6.4, ("A", "P", "Mehlich-3"): 22.0,
                               ("A", "K", "Mehlich-3"): 120.0, ("A", "Zn", "DTPA"): 1.5}


def test_a_group_that_is_not_merged_is_not_stretched(read):
    """Without a merged range the group's unit is known only for the column right below."""
    reading = read([[None, "Mehlich-3 (ppm)", None], ["Sample", "P", "K"], ["A", 22, 120]])
    assert values(reading) == {("A", "P", "Mehlich-3"): 22.0}
    assert reading.set_aside["label"].tolist() == ["K"]


def test_base_saturation_as_a_group(read):
    """The second K, Ca and Mg under "Base saturation %" are shares of the exchange capacity."""
    reading = read([[None, None, None, None, "Base saturation (%)", None, None],
                    ["Sample", "K ppm", "Ca ppm", "Mg ppm", "K", "Ca", "Mg"],
                    ["A", 120, 1500, 180, 3.1, 71, 14]])
    found = {analyte: value for (_, analyte, _), value in values(reading).items()}
    assert found == {"K": 120.0, "Ca": 1500.0, "Mg": 180.0, "K saturation": 3.1, "Ca saturation": 71.0,
                     "Mg saturation": 14.0}


def test_advice_is_no_measurement(read):
    """What to apply stands in the same table and is set aside, also beside a stated depth."""
    reading = read([["Depth: 0-15 cm"], [None, None, None, "Recommendations lb/acre", None],
                    ["Sample", "pH", "P ppm", "P2O5 lb/acre", "K2O lb/acre"], ["A", 6.4, 20, 40, 60]])
    assert values(reading) == {("A", "pH", ""): 6.4, ("A", "P", ""): 20.0}
    assert reading.set_aside["reason"].tolist() == ["it stands under advice and is no measurement"] * 2


def test_limits_and_advice_across(read):
    """In a turned table a column of targets or advice is no sample."""
    reading = read([["Test", "Unit", "Harbour", "Optimum", "Recommended"], ["K", "ppm", 120, 150, 30]])
    assert values(reading) == {("Harbour", "K", ""): 120.0}
    assert reading.set_aside["text"].tolist() == ["150", "30"]


@pytest.mark.parametrize("above", [True, False])
def test_rows_that_tell_of_the_samples_across(read, above):
    """In a turned table beds, days and layers stand in rows, over the headings or under them."""
    told = [["Bed", None, "East", "West"], ["Date sampled", None, "2024-04-12", "2023-10-02"],
            ["Depth", "cm", "0-15", "0-30"]]
    head = [["Determination", "Unit", "A", "B"]]
    reading = read([*(told + head if above else head + told), ["K", "ppm", 120, 90], ["pH", None, 6.4, 7.1]])
    assert reading.set_aside.empty
    table = reading.results.set_index(["sample", "analyte"])[["bed", "season", "bottom_cm", "value"]]
    assert table.loc[("A", "K")].tolist() == ["East", "spring 2024", 15.0, 120.0]
    assert table.loc[("B", "K")].tolist() == ["West", "autumn 2023", 30.0, 90.0]
    assert table.loc[("B", "pH"), "value"] == 7.1


@pytest.mark.parametrize(("corner", "more"), [
    (None, []), ("Sample", []), ("Bed", [["Sample ID", None, "7", "8"]]),
    ("Lab number", [["Bed", None, "7", "8"]])])
def test_a_turned_table_whose_corner_says_nothing_of_analytes(read, corner, more):
    """Under a blank corner, or one that names the samples, the first column holds analytes."""
    reading = read([["Report of spring"], [corner, None, "East", "West"], *more, ["pH", None, 6.4, 7.1],
                    ["Potassium", "ppm", 120, None], ["Phosphorus", "ppm", 20, "<5"]])
    assert reading.set_aside.empty
    names = one, two = ("7", "8") if corner == "Bed" else ("East", "West")
    assert values(reading) == {(one, "pH", ""): 6.4, (two, "pH", ""): 7.1, (one, "K", ""): 120.0,
                               (one, "P", ""): 20.0, (two, "P", ""): 5.0}
    beds = {None: names, "Sample": names, "Bed": ("East", "West"), "Lab number": ("7", "8")}[corner]
    assert tuple(reading.results["bed"].drop_duplicates()) == beds


@pytest.mark.parametrize("second", ["150", "2024-04-12"])
def test_a_number_behind_the_value_of_a_sheet_is_no_value(read, second):
    """A second number beside a value, which nothing explains, is set aside and not lost."""
    reading = read([["Sample", "Harbour"], ["pH", 6.4], ["Potassium", "120", "ppm", second],
                    ["Phosphorus", "20", "ppm", 31]])
    assert {key[1]: value for key, value in values(reading).items()} == {"pH": 6.4, "K": 120.0, "P": 20.0}
    expected = ["150", "31"] if second == "150" else ["31"]
    assert reading.set_aside["text"].tolist() == expected
    assert reading.set_aside["reason"].str.contains("nothing says what it is").all()


def test_samples_called_like_elements_are_no_analytes(read):
    """Samples B, C, K and X under headings that nothing knows: no table is made up."""
    with pytest.raises(ReadError, match="no table of soil values"):
        read([["Sample", "Alpha", "Omega"], ["B", 1, 2], ["C", 3, 4], ["W", 5, 6], ["X", 5, 6]])


def test_marks_for_missing_in_a_turned_table_are_no_headings(read):
    """"NA" beside "pH" is no sodium, whichever rows come first; only after a blank row a new table begins."""
    turned = [["Analyte", "Unit", "Harbour", "Hill"], ["B", "mg/kg", "", "*"], ["pH", "", "NA", "NA"],
              ["CEC", "cmol/kg", 9, 11], ["K", "mg/kg", 140, ""]]  # fmt: skip
    found = {("Harbour", "CEC", ""): 9.0, ("Hill", "CEC", ""): 11.0, ("Harbour", "K", ""): 140.0}
    reading = read(turned)
    assert (values(reading), len(reading.set_aside)) == (found, 0)
    reading = read([*turned, ["", "", "", ""], ["Sample", "pH", "Mg mg/kg", ""], ["Lane", 6.4, 120, ""]])
    assert values(reading) == found | {("Lane", "pH", ""): 6.4, ("Lane", "Mg", ""): 120.0}


def test_a_line_over_a_turned_table_holds_for_all_its_samples(read):
    """One day in a line of its own is the day of every sample; two names in a line are no samples."""
    reading = read([["Date sampled", "2024-04-12"], ["Laboratory", "Hill", "Report no", "A-17"],
                    ["Determination", "East", "West"], ["pH", 6.4, 7.1]])
    assert reading.results["season"].tolist() == ["spring 2024"] * 2
    assert reading.results[["lab", "report"]].drop_duplicates().to_numpy().tolist() == [["Hill", "A-17"]]


def test_a_title_across_columns_is_no_unit(read):
    """Words merged over columns whose neighbours bear units leave the headings' own units alone."""
    reading = read([[None, "Soil", None, "Mehlich-3, ppm", None, "Base saturation, %", None],
                    ["Sample", "pH", "OM %", "K", "Ca", "K", "Ca"], ["A", 6.4, 3.5, 120, 1500, 3.1, 71]],
                   merged=["B1:C1", "D1:E1", "F1:G1"])
    assert reading.set_aside.empty
    assert values(reading) == {
        ("A", "pH", ""): 6.4, ("A", "OM", ""): 3.5, ("A", "K", "Mehlich-3"): 120.0,
        ("A", "Ca", "Mehlich-3"): 1500.0, ("A", "K saturation", ""): 3.1, ("A", "Ca saturation", ""): 71.0}


def test_a_one_sample_sheet_with_headings(read):
    """Label, result, unit, guideline and rating in a row; the guideline is no value."""
    reading = read([["Sample: Harbour"], ["Date sampled", "2024-04-12"], [None],
                    ["Analysis", "Result", "Units", "Guideline", "Interpretation"],
                    ["pH", 6.4, None, 6.5, "low"], ["Potassium", 120, "mg/kg", 150, "low"]])
    assert values(reading) == {("Harbour", "pH", ""): 6.4, ("Harbour", "K", ""): 120.0}
    assert reading.results["rating"].tolist() == ["low", "low"]
    assert reading.results["season"].tolist() == ["spring 2024"] * 2


def test_a_one_sample_sheet_without_headings(read):
    """Two blocks of labels and values side by side, under lines of description."""
    reading = read([["Sample", "Harbour"], ["Lab: Hill"], ["pH", 6.4, None, "medium", "Zinc", "<0.5", "ppm"],
                    ["Phosphorus (P)", 45, "ppm", "high", "Boron", 0.4, "ppm"],
                    ["Potassium (K)", 120, "ppm", "low", "Copper", 1.1, "ppm"]])
    assert {key[1]: value for key, value in values(reading).items()} == {
        "pH": 6.4, "P": 45.0, "K": 120.0, "Zn": 0.5, "B": 0.4, "Cu": 1.1}
    assert set(reading.results["sample"]) == {"Harbour"}
    assert reading.results["rating"].tolist()[:3] == ["medium", "high", "low"]


def test_blocks_one_below_the_other(read):
    """Each block has its own sample; what stands at the top holds for all, and nothing leaks upwards."""
    def block(name, value):
        return [[f"Sample: {name}"], ["Test", "Result", "Unit"], ["K", value, "ppm"], [None]]

    reading = read([["Laboratory: Hill"], *block("A", 120), ["Depth: 0-15 cm"], *block("B", 140)])
    assert values(reading) == {("A", "K", ""): 120.0, ("B", "K", ""): 140.0}
    assert reading.results["lab"].tolist() == ["Hill", "Hill"]
    assert reading.results["bottom_cm"].isna().tolist() == [True, False]


def test_footnotes_do_not_become_samples(read):
    """Lines under the table stay lines, even with numbers in them."""
    reading = read([["Sample", "pH", "K ppm", "P ppm", "Zn ppm"], ["A", 6.4, 120, 20, 1.5], [None],
                    ["Pages", 2], ["Extracted with care", None, None, "see web"]])
    assert len(reading.results) == 4
    assert reading.set_aside["text"].tolist() == ["2"]
    assert "stands apart or holds words" in reading.set_aside["reason"][0]


def test_a_sample_of_which_there_was_too_little_keeps_its_one_figure(read):
    """Words that come again say why there is no figure; ratings in their place make no sample."""
    short = "not enough soil"
    reading = read([["Sample", "pH", "K ppm", "P ppm"], ["A", 6.4, 120, 20], ["B", 6.1, short, short],
                    ["rated", 5.9, "low", "low"]])
    whole = {("A", "pH", ""): 6.4, ("A", "K", ""): 120.0, ("A", "P", ""): 20.0}
    assert values(reading) == {**whole, ("B", "pH", ""): 6.1}
    assert sorted(reading.set_aside["text"]) == ["5.9", "low", "low", short, short]


def test_shares_that_sum_to_a_hundred_prove_themselves(read):
    """%K, %Mg, %Ca and %H that sum to 100 in every sample are shares of the exchange capacity."""
    rows = [["Sample", "K ppm", "%K", "%Mg", "%Ca", "%H"], ["A", 120, 3.8, 14.2, 70.1, 11.9],
            ["B", 90, 3.0, 12.0, 75.0, 10.0]]
    found = {key[1]: value for key, value in values(read(rows)).items() if key[0] == "A"}
    assert found == {"K": 120.0, "K saturation": 3.8, "Mg saturation": 14.2, "Ca saturation": 70.1,
                     "acidity saturation": 11.9}
    rows[2][4] = 40.0
    assert {key[1] for key in values(read(rows))} == {"K"}


def test_ratings_in_columns_of_their_own(read):
    """"K rating" stands beside "K ppm", on either side of it."""
    reading = read([["Sample", "P rating", "P ppm", "K ppm", "K rating"], ["A", "H", 45, 120, "M"]])
    assert reading.results[["analyte", "value", "rating"]].to_numpy().tolist() == [
        ["P", 45.0, "H"], ["K", 120.0, "M"]]


def test_an_amount_per_area_by_the_laboratorys_own_weight(read):
    """10 ppm and 20 lb/acre in 6 inches are one value at 1.47 g/cm3; 10 ppm and 200 lb/acre are not."""
    reading = read([["Sample", "Depth (in)", "NO3-N ppm", "NO3-N lb/ac"], ["A", "0-6", 10, 20],
                    ["B", "0-6", 10, 200]])
    assert reading.results["value"].tolist() == [10.0, 10.0]
    assert [text.split(" '")[0] for text in reading.set_aside["reason"]] == [
        "the same measurement as", "it contradicts its twin:"]


@pytest.mark.parametrize(("text", "labels"), [
    ("Ref,Bed,pH\n1,East,6.4\n2,West,6.1\n", ["1", "2"]),
    ("Ref,Sample,Bed,pH\n901,A1,East,6.4\n902,A2,West,6.1\n", ["A1", "A2"]),
    ("Bed,pH,Ref\nEast,6.4,6-7\nWest,6.1,6-7\n", ["", ""]),
    ("Ref: A-17\nDate: 2024-04-12\n\nBed,pH\nEast,6.4\nWest,6.1\n", ["", ""]),
])
def test_ref_names_the_samples_where_nothing_else_does(tmp_path, text, labels):
    """It is no label beside one, behind the values or over the table; what is not used is told."""
    path = tmp_path / "a.csv"
    path.write_text(text)
    found = read_report(path)
    assert found.results["sample"].tolist() == labels
    told = any("Ref" in note for note in found.notes)
    assert told == (labels != ["1", "2"])


def test_a_turned_table_without_a_sample_holds_nothing(tmp_path):
    """Two headings of the same words and no column under either: there is nothing to read."""
    (tmp_path / "a.csv").write_text("Analyte,Sample,Sample\npH\n")
    assert read_report(tmp_path / "a.csv").results.empty
