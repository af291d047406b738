"""Which report came when, from whom and in which shape; and the bags that were sent.

To send an occasion out in another shape, change its line in :data:`REPORTS`; to add a shape,
add one function and its line in ``catalogue.py``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from barrow import APPLICATIONS
from soil import OXIDE, methods
from story import BEDS, DEPTH_CM, KESTHOLM, ORRELBY, Sample

REACTION = ("pH", "buffer pH", "OM")
BASES = ("P", "K", "Ca", "Mg", "Na")
TRACES = ("S", "B", "Zn", "Mn", "Fe", "Cu")
CHARGE = ("CEC", "Ca saturation", "Mg saturation", "K saturation", "Na saturation", "acidity saturation")
FULL = (*REACTION, "CEC", *BASES, *TRACES)
ALL = (*FULL, *CHARGE[1:])
ABROAD = ("pH", "OM", *BASES, *TRACES, "acidity", "CEC", "EC")

SYMBOL = {
    ORRELBY: {
        "buffer pH": "Buffer pH",
        "OM": "Organic matter",
        "Ca saturation": "Ca sat",
        "Mg saturation": "Mg sat",
        "K saturation": "K sat",
        "Na saturation": "Na sat",
        "acidity saturation": "H sat",
    },
    KESTHOLM: {
        "OM": "Humus",
        "P": "P2O5",
        "K": "K2O",
        "Ca": "CA",
        "Mg": "MG",
        "Na": "NA",
        "Zn": "ZN",
        "Mn": "MN",
        "Fe": "FE",
        "Cu": "CU",
        "acidity": "Exch. acidity",
        "CEC": "T value",
        "EC": "Salts",
    },
}
UNIT = {"pH": "", "buffer pH": "", "OM": "%", "acidity": "cmol/kg", "EC": "mS/cm"}
DECIMALS = {
    "pH": 1,
    "buffer pH": 2,
    "OM": 1,
    "CEC": 1,
    "acidity": 2,
    "EC": 2,
    "P": 0,
    "K": 0,
    "Ca": 0,
    "Mg": 0,
    "Na": 0,
    "S": 1,
    "B": 2,
    "Zn": 1,
    "Mn": 0,
    "Fe": 0,
    "Cu": 1,
}
LIMIT = {("B", "hot water"): 0.5, ("B", "Mehlich-3"): 0.5}
"""Below these [mg/kg] both laboratories print a limit instead of a figure."""

POUNDS = 2.0
"""lb/acre per ppm, as Orrelby multiplies: two million pounds of soil to the acre."""

HECTARE = 15 * 1.3 * 0.1
"""kg/ha per mg/kg, as Kestholm multiplies: 15 cm at 1.3 g/cm3."""

OUTLIER = ("autumn-2025", "PL-25A", "Mg")
"""A figure that lost its decimal point: printed ten times too large."""

NO_ORCHARD = "Orchard"
"""The bed that hidden duplicates are sent from; there is none."""


@dataclass(frozen=True)
class Column:
    """A column of a report: what was measured, how it is headed, and the printed unit per mg/kg."""

    analyte: str
    symbol: str
    unit: str
    method: str
    decimals: int
    factor: float = 1.0


@dataclass(frozen=True)
class Report:
    """One report: the laboratory, the day of sampling, the shape of its file, what it holds."""

    stem: str
    lab: str
    day: date
    shape: str
    analytes: tuple[str, ...] = FULL
    number: str = ""
    layout: dict[str, Any] = field(default_factory=dict)
    answers: str = ""  # the text of the toml beside the file


REPORTS = (
    Report(
        "autumn-2019",
        ORRELBY,
        date(2019, 10, 15),
        "wide csv",
        (*REACTION, "CEC", *BASES, *CHARGE[1:]),
        "19-2207",
        {"beds": True, "dates": "%Y-%m-%d", "how": True},
    ),
    Report(
        "spring-2020",
        ORRELBY,
        date(2020, 4, 14),
        "across csv",
        FULL,
        "20-0611",
        {"beds": True, "dates": "%d %b %Y"},
    ),
    Report("autumn-2020", ORRELBY, date(2020, 10, 13), "long csv", FULL, "20-2315", {"dates": "%Y-%m-%d"}),
    Report(
        "spring-2021",
        ORRELBY,
        date(2021, 4, 7),
        "wide xlsx",
        FULL,
        "21-0588",
        {"beds": True, "nd": True},
        '# ND, from the foot of the sheet\n[limits]\nB = "0.5"\n',
    ),
    Report(
        "spring-2022",
        ORRELBY,
        date(2022, 4, 12),
        "wide csv",
        FULL,
        "22-0640",
        {"dates": "%d/%m/%Y", "how": True},
        'dates = "DMY"          # 12/04/2022 is the twelfth of April\n',
    ),
    Report("autumn-2022", ORRELBY, date(2022, 10, 11), "long xlsx", FULL, "22-2190", {}),
    Report("spring-2023", ORRELBY, date(2023, 4, 11), "grouped xlsx", ALL, "23-0702", {"beds": True}),
    Report(
        "autumn-2023",
        ORRELBY,
        date(2023, 10, 10),
        "wide csv, unit row",
        FULL,
        "23-2254",
        {"beds": True, "pounds": True},
        "# The wrong box was ticked on the form, so the figures came per acre. The laboratory doubles\n"
        "# its ppm (two million pounds of soil to the acre); over our 15 cm that is a soil of 1.4945.\n"
        'sampled = "2023-10-10"\ndepth_cm = 15\nbulk_density = 1.4945\n',
    ),
    Report("spring-2024", ORRELBY, date(2024, 4, 9), "xlsx of sheets", ALL, "24-0655", {"beds": True}),
    Report(
        "spring-2024-kestholm",
        KESTHOLM,
        date(2024, 4, 9),
        "semicolon csv",
        ABROAD,
        "KF/24/117",
        {"dates": "%d.%m.%Y", "oxides": "mg/100 g"},
        f'lab = "{KESTHOLM}"\nreport = "KF/24/117"\ndecimal = ","\ndates = "DMY"\n'
        '[methods]\nP2O5 = "Mehlich-3"\nK2O = "Mehlich-3"\n',
    ),
    Report(
        "autumn-2024-kestholm",
        KESTHOLM,
        date(2024, 10, 8),
        "old workbook",
        ABROAD,
        "KF/24/403",
        {"dates": "%d.%m.%Y", "oxides": "kg/ha"},
        f'lab = "{KESTHOLM}"\nreport = "KF/24/403"\n'
        "# Kestholm turns mg/kg into kg/ha over 15 cm of a soil of 1.3 g/cm3\n"
        'depth_cm = 15\nbulk_density = 1.3\n[methods]\nP2O5 = "Mehlich-3"\nK2O = "Mehlich-3"\n',
    ),
    Report(
        "spring-2025",
        ORRELBY,
        date(2025, 4, 8),
        "pdf",
        FULL,
        "25-0598",
        {"beds": True, "dates": "%d %B %Y", "words": True},
    ),
    Report(
        "autumn-2025", ORRELBY, date(2025, 10, 14), "wide xlsx", ALL, "25-2231", {"beds": True, "burst": True}
    ),
    Report("spring-2026", ORRELBY, date(2026, 4, 14), "slim json", FULL, "26-0619", {}),
    Report(
        "autumn-2026",
        ORRELBY,
        date(2026, 10, 13),
        "modus xml",
        ALL,
        "26-2240",
        {"beds": True},
    ),
)

DUPLICATES = {
    date(2020, 10, 13): "Plum",
    date(2022, 4, 12): "Ferry",
    date(2023, 4, 11): "Long Reach",
    date(2024, 4, 9): "Gatepost",
    date(2025, 10, 14): "Kettle",
    date(2026, 10, 13): "Brûlé",
}
"""The bed that was sent twice, the second time as from the orchard."""

DEEP = ("Long Reach", date(2022, 10, 11))
"""The bed that was once sampled to 30 cm, with a borrowed auger."""

WEATHER = {
    date(2020, 10, 13): "dry",
    date(2022, 10, 11): "dry",
    date(2024, 4, 9): "wet",
    date(2025, 10, 14): "dry",
}
PRINTED_BED = {"Brûlé": "Brule", "Zoë's Row": "Zoes Row"}
"""Orrelby's machine knows no accents."""


def code(day: date) -> str:
    """Return the part of a label that tells the season ("24S")."""
    return f"{day:%y}{'S' if day.month < 7 else 'A'}"


def _bag(bed: str, short: str, report: Report) -> Sample:
    day = report.day
    deep = (bed, day) == DEEP
    note = "borrowed auger: 0-30 cm by mistake" if deep else ""
    return Sample(
        f"{short}-{code(day)}",
        bed,
        day,
        30.0 if deep else DEPTH_CM,
        12 if day.year == 2019 else 16,
        surface="kept" if day.year == 2019 else "removed",
        moisture=WEATHER.get(day, "moist"),
        note=note,
        printed_bed=PRINTED_BED.get(bed, bed),
    )


def samples(report: Report) -> tuple[Sample, ...]:
    """Return the bags of a report: one a bed, and the hidden duplicate; splits for Kestholm in spring."""
    bags = [_bag(bed.name, bed.code, report) for bed in BEDS]
    twice = DUPLICATES.get(report.day)
    if twice:
        first = next(bag for bag in bags if bag.bed == twice)
        bags.append(
            Sample(
                f"OR-{code(report.day)}",
                twice,
                report.day,
                first.bottom_cm,
                first.cores,
                first.label,
                first.surface,
                first.moisture,
                f"sent as from the {NO_ORCHARD.lower()}",
                printed_bed=NO_ORCHARD,
            )
        )
    if report.stem == "spring-2024-kestholm":
        bags = [
            Sample(
                bag.label + "K",
                bag.bed,
                bag.day,
                bag.bottom_cm,
                bag.cores,
                bag.duplicate_of or bag.label,
                bag.surface,
                bag.moisture,
                "same bucket, to Kestholm",
                bag.printed_bed,
            )
            for bag in bags
        ]
    return tuple(bags)


def columns(report: Report) -> tuple[Column, ...]:
    """Return the columns of a report in the order of the sheet."""
    used = methods(report.lab, report.day)
    out = []
    for analyte in report.analytes:
        unit, factor = UNIT.get(analyte, "ppm" if report.lab == ORRELBY else "mg/kg"), 1.0
        decimals = DECIMALS.get(analyte, 1)
        if analyte.endswith("saturation"):
            unit = "%"
        elif analyte == "CEC":
            unit = "meq/100g" if report.lab == ORRELBY else "cmol/kg"
        elif report.layout.get("pounds") and analyte in BASES:
            unit, factor = "lb/acre", POUNDS
        elif report.lab == KESTHOLM and analyte in OXIDE:
            unit = report.layout["oxides"]
            factor, decimals = (
                (OXIDE[analyte] / 10, 1) if unit == "mg/100 g" else (OXIDE[analyte] * HECTARE, 0)
            )
        elif report.lab == KESTHOLM and analyte == "pH":
            decimals = 2
        out.append(
            Column(
                analyte,
                SYMBOL[report.lab].get(analyte, analyte),
                unit,
                used.get(analyte, ""),
                decimals,
                factor,
            )
        )
    return tuple(out)


def days_since_dressing(sample: Sample) -> int | None:
    """Return the days since the bed's last dressing, or None when there was none yet."""
    days = [a.day for a in APPLICATIONS if a.bed == sample.bed and a.day < sample.day]
    return (sample.day - max(days)).days if days else None
