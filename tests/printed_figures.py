"""Every figure of a demo report by bag and heading, read without the generator and without the reader."""

import csv
import json
import re
from xml.etree import ElementTree

import openpyxl
import xlrd

KNOWN = ("Bed", "Sampled", "Sampling date")
SHARE = "Base saturation, %"
NAMES = {"BpH": "Buffer pH", "BPH": "Buffer pH", "PH": "pH", "OM": "Organic matter"}
SHOW = re.compile(r"0 1 -1 0 (\S+) (\S+) Tm \((.*?)\) Tj")


def _shown(value, form):
    """A number of a workbook with the decimals it is shown with; a text as it stands."""
    if not isinstance(value, (int, float)):
        return str(value or "")
    return f"{value:.{len(form.partition('.')[2])}f}"


def _filled(page):
    """The rows of a sheet, merged cells filled with what stands in their first."""
    rows = [[_shown(cell.value, cell.number_format) for cell in row] for row in page.iter_rows()]
    for area in page.merged_cells.ranges:
        for row, at in area.cells:
            rows[row - 1][at - 1] = rows[area.min_row - 1][area.min_col - 1]
    return rows


def _old(path):
    """The rows of the first sheet of an old workbook."""
    book = xlrd.open_workbook(path, formatting_info=True)
    forms = [book.format_map[form.format_key].format_str for form in book.xf_list]
    return [
        [_shown(cell.value, forms[cell.xf_index]) for cell in row]
        for row in book.sheet_by_index(0).get_rows()
    ]


def _page(path):
    """The rows of a page that is turned on its side: texts by their place, one column an edge."""
    words = [(float(y), float(x), text) for y, x, text in SHOW.findall(path.read_text("latin-1"))]
    top = next(y for y, _, text in words if text == "Sample")
    line = sorted({x for y, x, _ in words if y >= top})
    return [
        [next((text for y, x, text in words if (y, x) == (down, across)), "") for across in line]
        for down in sorted({y for y, _, _ in words})
    ]


def grid(path):
    """The cells of a report as text, the sheets of a workbook one below the other."""
    if path.suffix == ".csv":
        text = path.read_text(encoding="utf-8-sig")
        return list(csv.reader(text.splitlines(), delimiter=";" if ";" in text.split("\n")[0] else ","))
    if path.suffix == ".xls":
        return _old(path)
    if path.suffix == ".pdf":
        return _page(path)
    return [row for page in openpyxl.load_workbook(path).worksheets for row in _filled(page)]


def _xml(path):
    """The figures of a Modus v1 file."""
    return {
        (sample.findtext(".//SampleNumber"), _named(result.findtext("Element"))): result.findtext("Value")
        for sample in ElementTree.parse(path).iter("SoilSample")
        for result in sample.iter("NutrientResult")
    }


def _named(element):
    """The heading that an element of Modus stands for."""
    return NAMES.get(element, f"{element[3:]} sat" if element.startswith("BS-") else element)


def _json(path):
    """The figures of a slim file, numbers with the digits that stand there."""
    read = json.loads(path.read_text(encoding="utf-8"), parse_float=str, parse_int=str)
    symbols = {**NAMES, **{name.upper(): name for name in ("Ca", "Mg", "Na", "Zn", "Mn", "Fe", "Cu")}}
    return {
        (bag, symbols.get(result["analyte"], result["analyte"])): result["value"]
        for bag, told in read["samples"].items()
        for result in told["results"].values()
    }


def _table(head, over, body):
    """The figures of one table; a heading under shares of the exchange capacity is told apart."""
    if "Result" in head:
        what, value = head.index("Determination"), head.index("Result")
        return {(row[0], row[what]): row[value] for row in body}
    names = [f"{name} sat" if group == SHARE else name for name, group in zip(head, over, strict=True)]
    return {
        (row[0], name): cell
        for row in body
        for name, cell in zip(names, row, strict=True)
        if cell and name not in KNOWN and not name.startswith("Sample")
    }


def _two_lines(rows):
    """The rows of the page with its two lines of headings made one."""
    at = next(i for i, row in enumerate(rows) if "Sample" in row)
    joined = [" ".join(filter(None, pair)) for pair in zip(rows[at - 1], rows[at], strict=True)]
    return [*rows[: at - 1], joined, *rows[at + 1 :]]


def figures(path):
    """Every figure of a report: (bag, heading) to text."""
    if path.suffix in (".xml", ".json"):
        return _xml(path) if path.suffix == ".xml" else _json(path)
    rows = [row for row in grid(path) if any(row)]
    rows = _two_lines(rows) if path.suffix == ".pdf" else rows
    if rows[0][:2] == ["Determination", "Unit"]:
        rows = [[row[0], *row[2:]] for row in rows if row[0] not in KNOWN]
        rows = [list(row) for row in zip(*rows, strict=True)]
        rows[0][0] = "Sample"
    heads = [i for i, row in enumerate(rows) if row[0] in ("Sample", "Sample name")]
    out = {}
    for at, end in zip(heads, [*heads[1:], len(rows)], strict=True):
        body = [row for row in rows[at + 1 : end] if "-" in row[0] and row[0][:2].isupper()]
        out |= _table(rows[at], rows[at - 1] if at else rows[at], body)
    return out
