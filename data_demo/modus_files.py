"""The open exchange format Modus, written small: a v1 XML file and a slim JSON file.

Only the parts a result needs are written; the names of the parts are those of the format,
everything that fills them is invented.
"""

from __future__ import annotations

import json
from datetime import date
from xml.sax.saxutils import escape

from reports import Column, Sample
from shapes import Sheet

CODES = {  # v1 test codes, by their structure: S-<analyte>-<extractant>.<tail>
    "pH": "S-PH-1:1.02.07",
    "buffer pH": "S-BPH-SIK2.02.07",
    "OM": "S-SOM-LOI.15",
    "CEC": "S-CEC.19",
    "acidity saturation": "S-BS-H.19",
}
ELEMENTS = {"buffer pH": "BpH", "acidity saturation": "BS-H"}
SLIM = {"pH": "PH", "buffer pH": "BPH"}
UCUM = {"ppm": "[ppm]", "meq/100g": "meq/(100.g)", "%": "%", "": "[pH]"}


def _code(column: Column) -> str:
    """Return the test code of a column: elements are all extracted with Mehlich-3 and read by ICP."""
    base = column.analyte.removesuffix(" saturation")
    known = f"S-BS-{base.upper()}.19" if base != column.analyte else f"S-{base.upper()}-M3.04"
    return CODES.get(column.analyte, known)


def _element(column: Column) -> str:
    """Return the name of a column in v1."""
    base = column.analyte.removesuffix(" saturation")
    return ELEMENTS.get(column.analyte, f"BS-{base}" if base != column.analyte else base)


def _tag(name: str, text: str) -> str:
    return f"<{name}>{escape(text)}</{name}>"


def _result(column: Column, text: str) -> str:
    """Return one result of v1."""
    code = _code(column)
    kind = "Calculated" if code.endswith(".19") else "Measured"
    parts = (
        ("Element", _element(column)),
        ("Value", text),
        ("ValueUnit", column.unit or "none"),
        ("ModusTestID", code),
        ("ValueType", kind),
    )
    inside = "".join(_tag(name, told) for name, told in parts)
    return f"<NutrientResult>{inside}</NutrientResult>"


def _sample(sheet: Sheet, sample: Sample, depth: int) -> str:
    """Return one bag of v1, with the number of its depth."""
    results = [
        f"          {_result(column, text)}"
        for column, text in zip(sheet.columns, sheet.row(sample), strict=True)
        if text
    ]
    return "\n".join(
        (
            "      <SoilSample>",
            "        <SampleMetaData>"
            + _tag("SampleNumber", sample.label)
            + _tag("FMISSampleID", sample.printed_bed)
            + "<ReportID>1</ReportID></SampleMetaData>",
            f'        <Depths><Depth DepthID="{depth}"><NutrientResults>',
            *results,
            "        </NutrientResults></Depth></Depths>",
            "      </SoilSample>",
        )
    )


def modus_xml(sheet: Sheet) -> bytes:
    """Lay out a v1 file of one event: bags, depths in centimetres, methods as test codes."""
    bottoms = sorted({sample.bottom_cm for sample in sheet.samples})
    refs = "".join(
        f'<DepthRef DepthID="{number}">{_tag("Name", f"0-{bottom:.0f} cm")}<StartingDepth>0</StartingDepth>'
        f"{_tag('EndingDepth', f'{bottom:.0f}')}{_tag('ColumnDepth', f'{bottom:.0f}')}"
        "<DepthUnit>cm</DepthUnit></DepthRef>"
        for number, bottom in enumerate(bottoms, start=1)
    )
    report, lines = sheet.report, []
    lines += [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<ModusResult Version="1.0">',
        "  <Event>",
        f"    <EventMetaData>{_tag('EventCode', report.number)}{_tag('EventDate', str(report.day))}"
        "<EventType><Soil/></EventType></EventMetaData>",
        f"    <LabMetaData>{_tag('LabName', report.lab)}<Reports>"
        f'<Report ReportID="1">{_tag("LabReportID", report.number)}</Report></Reports></LabMetaData>',
        "    <FMISMetaData><FMISProfile><Grower>Merrin</Grower><Farm>Oxmarrow Steps</Farm></FMISProfile>"
        "</FMISMetaData>",
        "    <EventSamples><Soil>",
        f"      <DepthRefs>{refs}</DepthRefs>",
    ]
    lines += [_sample(sheet, bag, bottoms.index(bag.bottom_cm) + 1) for bag in sheet.samples]
    lines += ["    </Soil></EventSamples>", "  </Event>", "</ModusResult>", ""]
    return "\n".join(lines).encode()


def _slim_result(column: Column, text: str) -> dict[str, object]:
    """Return one result of a slim file; a limit stays a text, because a number has no sign."""
    value = text if text.startswith("<") else json.loads(text)
    return {
        "analyte": SLIM.get(column.analyte, column.analyte.upper()),
        "value": value,
        "units": UCUM[column.unit],
        "modusTestID": _code(column),
    }


def slim_json(sheet: Sheet) -> bytes:
    """Lay out a slim file: what all bags share stands once, every result under its bag."""
    report = sheet.report
    reported: date = report.day.replace(day=28)
    content = {
        "_type": "application/vnd.modus.slim.v1.0+json",
        "id": report.number,
        "date": str(reported),
        "type": "soil",
        "lab": {"name": report.lab},
        "source": {"grower": {"name": "Merrin"}, "farm": {"name": "Oxmarrow Steps"}, "date": str(report.day)},
        "depth": {"name": "0-15 cm", "top": 0, "bottom": 15, "units": "cm"},
        "samples": {
            bag.label: {
                "results": {
                    f"{number}": _slim_result(column, text)
                    for number, (column, text) in enumerate(
                        zip(sheet.columns, sheet.row(bag), strict=True), start=1
                    )
                    if text
                }
            }
            for bag in sheet.samples
        },
    }
    return (json.dumps(content, indent=1) + "\n").encode()
