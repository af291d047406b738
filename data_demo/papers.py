"""The grower's own files: garden.toml, the sampling record, materials, dressings, harvests, notes."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from datetime import date

from barrow import APPLICATIONS, HARVESTS
from materials import LEAF_RANGES, MATERIALS, Material
from reports import REPORTS, Report, Sample, days_since_dressing, samples
from soil import NEW, OLD, pool
from story import BEDS, DEPTH_CM, KESTHOLM, MEHLICH_FROM, NAME, ORRELBY, PLACE, STORY, Bed, normal

NUTRIENTS = ("N", "P", "K", "Ca", "Mg", "S", "Na", "B", "Zn", "Mn", "Cu", "C")

AIMS = """\
# What she aims at, by Mehlich-3 (her own, from the Thursday class)
[aims]
P = {low = 50, high = 100, method = "Mehlich-3"}
K = {low = 120, high = 200, method = "Mehlich-3"}
Mg = {low = 110, high = 220, method = "Mehlich-3"}
pH = {low = 6.2, high = 6.9, method = "water 1:1"}"""
CLIMATE = """\
# Mean of day and night, January first: from her own two thermometers by the gatepost, 2020 to 2025
[climate]
monthly_mean_C = [4.6, 4.8, 6.4, 8.6, 11.5, 14.2, 16.1, 16.0, 14.0, 10.9, 7.5, 5.3]"""
CUPS = """\
# Grams in one level cup of 250 ml, weighed on the kitchen scale
[cups]
"gypsum" = 238
"ground mussel shell" = 275
"stove ash" = 138
"basalt dust" = 375
"Epsom salt" = 238
"house compost" = 155"""


def table(rows: Iterable[Sequence[object]], remark: str = "") -> bytes:
    """Return a comma-separated file, with a remark line above the headings."""
    text = io.StringIO()
    text.write(f"# {remark}\n" if remark else "")
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def number(value: float | None) -> str:
    """Return a number without needless noughts, or a blank."""
    return "" if value is None else f"{value:.4g}" if value < 1000 else f"{value:.0f}"


def _bed_section(bed: Bed) -> str:
    aliases = f"aliases = [{', '.join(f'{chr(34)}{alias}{chr(34)}' for alias in (bed.code, *bed.aliases))}]"
    lines = [
        f'[beds."{bed.name}"]',
        f"area_m2 = {bed.area_m2}",
        f"depth_cm = {DEPTH_CM:.0f}",
        f"bulk_density = {bed.bulk_density:.2f}   # g/cm3, two rings cut in April 2020",
        f'medium = "{bed.medium}"',
        *(["check = true"] if bed.check else []),
        aliases,
        *([f'note = "{bed.note}"'] if bed.note else []),
    ]
    return "\n".join(lines)


def _methods(used: dict[str, str]) -> str:
    return (
        "{"
        + ", ".join(f'"{analyte}" = "{method}"' for analyte, method in used.items())
        + ', CEC = "summation"}'
    )


def garden_toml() -> bytes:
    """Return the garden's own description."""
    sure = {analyte: method for analyte, method in NEW.items() if analyte not in ("pH", "buffer pH")}
    parts = [
        f'name = "{NAME}"\nplace = "{PLACE}"\nhemisphere = "north"',
        'acidity = "Sikora"   # the buffer whose formula adds the acidity to the summed exchange capacity',
        f'story = """\n{STORY}\n"""',
        *map(_bed_section, BEDS),
        f'[labs."{ORRELBY}"]\n'
        f'note = "changed its extractant on {MEHLICH_FROM}; adds acidity as 12 x (7 - buffer pH)"',
        f'[[labs."{ORRELBY}".answers]]\nfrom = 2019-01-01\nmethods = {_methods(OLD)}',
        f'[[labs."{ORRELBY}".answers]]\nfrom = {MEHLICH_FROM}   # their letter of June 2021\n'
        f"methods = {_methods(NEW)}",
        f'[labs."{KESTHOLM}"]\nnote = "a second opinion in 2024: pH in CaCl2, P and K printed as oxides"',
        f'[[labs."{KESTHOLM}".answers]]\nfrom = 2019-01-01\nmethods = {_methods(sure)}',
        AIMS,
        CUPS,
        CLIMATE,
    ]
    return ("\n\n".join(parts) + "\n").encode()


def report_toml() -> bytes:
    """Return the answers that hold for every report of the folder."""
    return (
        f'# Holds for every file of this folder that has no answer of its own beside it\nlab = "{ORRELBY}"\n'
    ).encode()


def answers(report: Report) -> str:
    """Return the text of the toml beside a report, or an empty text when it needs none."""
    text = report.answers
    if not report.layout.get("beds") and report.stem in ("spring-2022", "autumn-2024-kestholm"):
        lines = [f'"{sample.label}" = "{sample.bed}"' for sample in samples(report)]
        text += "[beds]                # the bags bore labels only\n" + "\n".join(lines) + "\n"
    return text


def all_samples() -> list[Sample]:
    """Return every bag ever sent."""
    return [sample for report in REPORTS for sample in samples(report)]


def samples_csv() -> bytes:
    """Return the sampling record."""
    head = [
        "sample",
        "bed",
        "sampled",
        "top_cm",
        "bottom_cm",
        "cores",
        "duplicate_of",
        "surface",
        "moisture",
        "days_since_dressing",
        "note",
    ]
    rows = [
        [
            s.label,
            s.bed,
            s.day,
            0,
            f"{s.bottom_cm:.0f}",
            s.cores,
            s.duplicate_of,
            s.surface,
            s.moisture,
            "" if days_since_dressing(s) is None else days_since_dressing(s),
            s.note,
        ]
        for s in all_samples()
    ]
    return table([head, *rows], "autumn 2021 is missing: the wrist. OR- is the orchard that does not exist.")


def _range(material: Material, nutrient: str) -> list[str]:
    likely = material.percent.get(nutrient)
    if likely is None:
        return ["", "", ""]
    low, high = (likely * share for share in material.spread)
    if material.name == "leaf mould" and nutrient in LEAF_RANGES:
        low, high = LEAF_RANGES[nutrient]
    return [number(low), number(likely), number(high)]


def materials_csv() -> bytes:
    """Return what she can add."""
    head = [
        "material",
        *(f"{n}{part}" for n in NUTRIENTS for part in ("_low", "", "_high")),
        "moisture",
        "CCE",
        "fineness",
        "density",
        "cost_per_kg",
        "on_hand_kg",
        "measured",
        "source",
    ]
    rows = [
        [
            m.name,
            *(cell for n in NUTRIENTS for cell in _range(m, n)),
            number(m.moisture),
            number(m.cce),
            m.fineness,
            number(m.density),
            number(m.cost),
            number(m.on_hand),
            "yes" if m.measured else "no",
            m.source,
        ]
        for m in MATERIALS
    ]
    return table([head, *rows], "percent of dry matter, elements and not oxides; moisture in % as it lies")


def applications_csv() -> bytes:
    """Return what went on the beds."""
    rows = [[a.day, a.bed, a.material, number(a.amount), a.unit, a.note] for a in APPLICATIONS]
    return table(
        [["date", "bed", "material", "amount", "unit", "note"], *rows], "as weighed or measured, wet"
    )


def harvests_csv() -> bytes:
    """Return what came off the beds."""
    rows = [[h.day, h.bed, h.crop, number(h.kg), h.residue, ""] for h in HARVESTS]
    return table(
        [["date", "bed", "crop", "kg", "residue", "note"], *rows], "fresh weight of what left the bed"
    )


def _seen(bed: Bed, day: date) -> list[list[object]]:
    """Return what hand and eye found in a bed on a day: the softer for humus, with some luck."""
    humus = math.log(pool(bed, "OM", day) / 4.0)
    worms = max(0, round(9 + 9 * humus + 2.5 * normal("worms", bed.name, day)))
    score = min(5.0, max(1.0, round((2.9 - 1.2 * humus + 0.3 * normal("structure", bed.name, day)) * 2) / 2))
    minutes = 9 * math.exp(-0.9 * humus + 0.25 * normal("infiltration", bed.name, day))
    return [
        [day, bed.name, "structure score", f"{score:.1f}", "score", ""],
        [day, bed.name, "earthworms", worms, "count", "one spade"],
        [day, bed.name, "infiltration time", f"{minutes:.1f}", "min", "25 mm in the ring"],
    ]


def observations_csv() -> bytes:
    """Return what hand and eye found, in spring from 2020."""
    days = sorted({report.day for report in REPORTS if report.day.month < 7})
    rows = [row for day in days for bed in BEDS for row in _seen(bed, day)]
    rows += [
        [date(2021, 4, 7), "Lower Wall", "note", "grey crumbs of lime in every spit", "", ""],
        [date(2021, 10, 12), "Gatepost", "note", "no sampling this autumn: wrist in plaster", "", ""],
    ]
    head = ["date", "bed", "measure", "value", "unit", "note"]
    return table([head, *sorted(rows, key=lambda row: (row[0], row[1], row[2]))])
