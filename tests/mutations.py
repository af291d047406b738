"""Damaged report files: each must give right values or a clear error, never a wrong value.

``python tests/mutations.py 2000`` damages so many files and counts what comes of them.
"""

import collections
import csv
import io
import random
import sys
import tempfile
from pathlib import Path

from soiltrend.errors import ReadError
from soiltrend.reading import read_report

BEDS = ("Harbour", "Hill", "Orchard", "Nursery", "Lower terrace")
UNITS = {"pH": "", "K": "mg/kg", "Zn": "ppm", "OM": "%", "Ca": "mg/kg", "B": "ppm", "CEC": "cmol/kg"}


def truth(random_):
    """Return {(bed, analyte): text} of a report."""
    low = {"pH": 5, "K": 80, "Zn": 1, "OM": 2, "Ca": 900, "B": 0.2, "CEC": 6}
    return {(bed, name): f"{low[name] * random_.uniform(1, 1.9):.2f}" for bed in BEDS for name in UNITS}


def wide(table):
    return [["Bed", "Date sampled", *(f"{name} {unit}".strip() for name, unit in UNITS.items())],
            *([bed, "2024-04-12", *(table[bed, name] for name in UNITS)] for bed in BEDS)]


def with_unit_row(table):
    return [["Lab: Hill", *[""] * len(UNITS)], ["Bed", *UNITS],
            ["UNITS", *(unit or "-" for unit in UNITS.values())],
            *([bed, *(table[bed, name] for name in UNITS)] for bed in BEDS)]


def long(table):
    return [["Bed", "Date sampled", "Analyte", "Result", "Unit"],
            *([bed, "2024-04-12", name, table[bed, name], UNITS[name]] for bed in BEDS for name in UNITS)]


def turned(table):
    return [["Analyte", "Unit", *BEDS],
            *([name, unit, *(table[bed, name] for bed in BEDS)] for name, unit in UNITS.items())]


def _pick(rows, random_):
    return random_.randrange(1, len(rows))


def cell_lost(rows, random_):
    row = rows[_pick(rows, random_)]
    del row[random_.randrange(len(row))]


def cell_added(rows, random_):
    row = rows[_pick(rows, random_)]
    row.insert(random_.randrange(len(row)), random_.choice(("", "7", "x")))


def cell_blanked(rows, random_):
    row = rows[_pick(rows, random_)]
    row[random_.randrange(len(row))] = random_.choice(("", "*", "--", "lost", "#REF!", "ND"))


def row_lost(rows, random_):
    del rows[random_.randrange(len(rows))]


def row_doubled(rows, random_):
    row = random_.randrange(len(rows))
    rows.insert(row, list(rows[row]))


def rows_swapped(rows, random_):
    one, two = _pick(rows, random_), _pick(rows, random_)
    rows[one], rows[two] = rows[two], rows[one]


def column_doubled(rows, random_):
    at = random_.randrange(len(rows[0]))
    for row in rows:
        row.insert(at, row[at])


def column_lost(rows, random_):
    at = random_.randrange(len(rows[0]))
    for row in rows:
        del row[at]


def units_lost(rows, random_):
    for row in rows:
        for unit in filter(None, UNITS.values()):
            row[:] = [cell.removesuffix(f" {unit}") for cell in row]
        row[:] = ["" if cell in UNITS.values() else cell for cell in row]


def heading_lost(rows, random_):
    head = next(row for row in rows if "pH" in row or "Analyte" in row)
    head[random_.randrange(len(head))] = random_.choice(("", "?", "Column1"))


def junk_row(rows, random_):
    junk = [random_.choice(("", "see note", "12", "Page 1", "***")) for _ in rows[0]]
    rows.insert(random_.randrange(len(rows)), junk)


MUTATIONS = (cell_lost, cell_added, cell_blanked, row_lost, row_doubled, rows_swapped, column_doubled,
             column_lost, units_lost, heading_lost, junk_row)
LAYOUTS = (wide, with_unit_row, long, turned)


def damaged(number):
    """Return (name of the damage, bytes of the file, truth) for a number."""
    random_ = random.Random(number)
    table = truth(random_)
    rows = [list(row) for row in random_.choice(LAYOUTS)(table)]
    kind = random_.choice((*MUTATIONS, *MUTATIONS, None, None))
    if kind:
        kind(rows, random_)
    text = io.StringIO()
    csv.writer(text, delimiter=random_.choice(",;\t|"), lineterminator="\n").writerows(rows)
    raw = text.getvalue().encode(random_.choice(("utf-8", "utf-8-sig", "utf-16", "cp1252")))
    if kind is None:
        raw = raw[: random_.randrange(len(raw))]
    return (kind.__name__ if kind else "truncated"), raw, table


def outcome(number, folder):
    """Return (damage, what came of it).

    right: all values; partly: some, the others set aside or gone; strange bed: a value without its bed,
    or under a name that is no bed; cut number: the last digits of the last number of a file cut short,
    which nothing in the file can show; error: a message; WRONG: a wrong value under a bed.
    """
    name, raw, table = damaged(number)
    path = Path(folder) / "report.csv"
    path.write_bytes(raw)
    try:
        results = read_report(path).results
    except ReadError:
        return name, "error"
    strange = ~results["bed"].isin(BEDS)
    wrong = [row for row in results[~strange].itertuples()
             if str(row.value) != str(float(table.get((row.bed, row.analyte), "nan"))) or row.qualifier]
    if name == "truncated" and len(wrong) == 1:
        text = table[wrong[0].bed, wrong[0].analyte]
        return name, "cut number" if text.startswith(wrong[0].reported_value) else "WRONG"
    if wrong:
        return name, "WRONG"
    if strange.any():
        return name, "strange bed"
    return name, "right" if len(results) == len(table) else "partly"


def main(count):
    """Count the outcomes of so many damaged files."""
    counts = collections.Counter()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            found = outcome(number, folder)
            counts[found] += 1
            if found[1] == "WRONG":
                sys.stdout.write(f"file {number}: {found[0]}\n")
    for (name, what), times in sorted(counts.items()):
        sys.stdout.write(f"{name:15s} {what:10s} {times}\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
