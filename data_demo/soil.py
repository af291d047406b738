"""What the soil of Oxmarrow Steps truly held, and how far a laboratory's figure strays from it.

The balance of a bed: what it held in October 2019, plus every dressing times the share of it
that a test finds, less what crops carried off, less what leaches. Lime turns acidity into
exchangeable calcium, one for one; lime that finds no acidity stays in the soil as carbonate,
of which the extractant dissolves a part. Charge therefore always closes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date

from barrow import APPLICATIONS, CROPS, HARVESTS, TAKEN, Application
from materials import MATERIAL, Material
from story import BED, BEDS, DEPTH_CM, KESTHOLM, MEHLICH_FROM, ORRELBY, Bed, Sample, normal

START = date(2019, 10, 1)
PER_CMOL = {"Ca": 200.39, "Mg": 121.525, "K": 390.98, "Na": 229.90}
"""mg/kg in one cmol of charge per kg: ten times atomic mass over charge (IUPAC 2021)."""

LIME_PER_CMOL = 500.43
"""mg CaCO3/kg that neutralise one cmol/kg: ten times 100.086 / 2."""

OXIDE = {"P": 2.2914, "K": 1.2046}
"""P2O5 per P and K2O per K, by atomic masses."""

ACIDITY_PER_BUFFER = 12.0
"""cmol/kg of acidity per unit of buffer pH below 7, for SMP and Sikora readings: Crop File 1.04.132,
"What is base saturation", H = (7 - buffer pH) x 12."""

OM_PER_C = 2.0
"""Organic matter per organic carbon: Pribyl 2010, Geoderma 156:75 (factor 2 nearer than 1.724)."""

ELEMENTS = ("P", "K", "Ca", "Mg", "Na", "S", "B", "Zn", "Mn", "Fe", "Cu")
DRIFT = {"P": -0.5, "K": -1.5, "OM": -0.02}
"""Change of a bed by itself, per year: mg/kg, and % for OM."""

LEACHING = {"Ca": 0.75, "Mg": 0.25}
ACIDIFYING = 0.05
"""cmol/kg of bases lost each year and replaced by acidity, and which bases."""

FADE = {"S": 0.8, "B": 2.0, "Na": 1.2, "K": 5.0}
"""Years in which what was added or carried off falls to 1/e: washed out, or for K taken up and
handed back by the clay."""

DEEPER = {
    "OM": 0.78,
    "P": 0.72,
    "K": 0.78,
    "Ca": 0.95,
    "Mg": 0.97,
    "S": 0.9,
    "B": 0.8,
    "Zn": 0.7,
    "Mn": 0.85,
    "Cu": 0.85,
}
"""What a core of 0-30 cm holds, as a share of 0-15 cm."""

SWING = {"pH": 0.14, "K": 0.14, "P": 0.05, "S": 0.10, "Mn": 0.08}
"""Spring above autumn: pH units, and natural logarithm for the rest (pH low in a dry autumn)."""

FACTOR = {  # extractant: share of the Mehlich-3 figure; P by 1.35 and K by 1.14: Culman et al. 2019, ANR-75
    "Mehlich-3": {},
    "Bray P1": {"P": 1 / 1.35},
    "ammonium acetate": {"K": 1 / 1.14, "Ca": 1 / 1.05, "Mg": 1 / 1.04},
    "DTPA": {"Zn": 0.55, "Mn": 0.35, "Fe": 0.30, "Cu": 0.60},
    "hot water": {"B": 0.9},
    "calcium phosphate": {"S": 0.9},
}
DISSOLVED = {"Mehlich-3": 0.60, "ammonium acetate": 0.15}
"""Share of the carbonate in the soil that the extractant dissolves."""

OLD = {
    "pH": "water 1:1",
    "buffer pH": "Sikora",
    "OM": "LOI",
    "P": "Bray P1",
    "K": "ammonium acetate",
    "Ca": "ammonium acetate",
    "Mg": "ammonium acetate",
    "Na": "ammonium acetate",
    "S": "calcium phosphate",
    "B": "hot water",
    "Zn": "DTPA",
    "Mn": "DTPA",
    "Fe": "DTPA",
    "Cu": "DTPA",
}
NEW = {**OLD, **dict.fromkeys(ELEMENTS, "Mehlich-3")}
FOREIGN = {**NEW, "pH": "CaCl2", "EC": "water 1:5", "acidity": "Mehlich buffer"}
SATURATIONS = ("Ca", "Mg", "K", "Na", "acidity")

SD = {
    "pH": 0.12,
    "buffer pH": 0.03,
    "OM": 0.05,
    "P": 0.10,
    "K": 0.10,
    "Ca": 0.08,
    "Mg": 0.08,
    "Na": 0.10,
    "S": 0.12,
    "B": 0.15,
    "Zn": 0.15,
    "Mn": 0.15,
    "Fe": 0.15,
    "Cu": 0.15,
    "acidity": 0.12,
    "EC": 0.10,
}
"""Standard deviation of one result of a composite of 15 cores: pH units, and logarithm for the rest."""

PLAIN = ("pH", "buffer pH")
SHARES = {"occasion": 0.25, "cores": 0.35, "preparation": 0.15, "laboratory": 0.25}
"""Shares of that variance: common to a laboratory's day, to a composite, to a subsample, and to
a reading. A duplicate has its own preparation and laboratory share only."""

CORES = 15
BIAS = {KESTHOLM: {"P": 0.08, "K": -0.06, "Ca": 0.04, "Mg": 0.03, "OM": 0.06, "Zn": 0.05}, ORRELBY: {}}
"""A laboratory's own way of reading high or low, as a logarithm; Orrelby is the reference."""


def methods(lab: str, day: date) -> dict[str, str]:
    """Return the laboratory's method for each analyte on a day."""
    if lab == KESTHOLM:
        return FOREIGN
    return NEW if day >= MEHLICH_FROM else OLD


def grams(application: Application) -> float:
    """Return what was spread, as it lay in the barrow [g]."""
    material = MATERIAL[application.material]
    per = {"kg": 1000.0, "g": 1.0, "L": 1000.0 * material.density, "g/m2": BED[application.bed].area_m2}
    return application.amount * per[application.unit]


def dose(application: Application, percent: float) -> float:
    """Return what a dressing adds to the layer of its bed [mg/kg], all of it counted.

    kg/ha = mg/kg x bulk density x depth x 0.1, hence g/m2 = mg/kg x bulk density x depth x 0.01.
    """
    bed, material = BED[application.bed], MATERIAL[application.material]
    dry_per_m2 = grams(application) * (1 - material.moisture / 100) / bed.area_m2
    return dry_per_m2 * percent / 100 / (bed.bulk_density * DEPTH_CM * 0.01)


def _years(start: date, end: date) -> float:
    return (end - start).days / 365.25


def _found(application: Application, material: Material, element: str, day: date) -> float:
    """Return the part of a dressing that a test of that day finds, as a share."""
    passed = _years(application.day, day)
    if passed <= 0:
        return 0.0
    released = 1 - math.exp(-passed / material.years) if material.years else 1.0
    return material.found.get(element, 0.0) * released * math.exp(-passed / FADE.get(element, math.inf))


def added(bed: Bed, element: str, day: date) -> float:
    """Return what all dressings so far have put into the test of a bed [mg/kg]; "CCE" for liming."""
    total = 0.0
    for application in APPLICATIONS:
        material = MATERIAL[application.material]
        percent = (material.cce or 0.0) if element == "CCE" else material.percent.get(element, 0.0)
        if application.bed == bed.name and percent:
            total += dose(application, percent) * _found(application, material, element, day)
    return total


def carried_off(bed: Bed, element: str, day: date) -> float:
    """Return what all harvests so far have taken out of the test of a bed [mg/kg]."""
    layer = bed.bulk_density * DEPTH_CM * 0.01 * bed.area_m2
    lasting = FADE.get(element, math.inf)
    taken = sum(
        h.kg * 1000 * CROPS[h.crop].holds[element] / 100 * math.exp(-_years(h.day, day) / lasting)
        for h in HARVESTS
        if h.bed == bed.name and h.day < day
    )
    return taken / layer * TAKEN[element]


def unmet_acidity(bed: Bed, day: date) -> float:
    """Return the acidity of a bed [cmol/kg]; below zero, the lime that found none to neutralise."""
    first = bed.buffering * (7.0 - bed.pH)
    return first + ACIDIFYING * _years(START, day) - added(bed, "CCE", day) / LIME_PER_CMOL


def pool(bed: Bed, analyte: str, day: date) -> float:
    """Return the bed's own figure by Mehlich-3 without season, carbonate counted in full."""
    passed = _years(START, day)
    value = bed.start[analyte] + bed.drift.get(analyte, DRIFT.get(analyte, 0.0)) * passed
    if analyte == "OM":
        return value + added(bed, "C", day) * OM_PER_C / 10_000
    if analyte in LEACHING:
        value -= LEACHING[analyte] * ACIDIFYING * passed * PER_CMOL[analyte]
    if analyte in TAKEN:
        value -= carried_off(bed, analyte, day)
    return value + added(bed, analyte, day)


def season_of(day: date) -> str:
    """Return spring or autumn, by the months she samples in."""
    return "spring" if day.month < 7 else "autumn"


def _half_swing(analyte: str, day: date) -> float:
    return SWING.get(analyte, 0.0) * (0.5 if season_of(day) == "spring" else -0.5)


def _reaction(bed: Bed, analyte: str, method: str, day: date) -> float:
    """Return pH, buffer pH or acidity."""
    unmet = unmet_acidity(bed, day)
    if analyte == "acidity":
        return max(unmet, 0.0)
    if analyte == "buffer pH":
        return 7.0 - max(unmet, 0.0) / ACIDITY_PER_BUFFER
    water = 7.0 - unmet / bed.buffering if unmet > 0 else 7.0 + 0.75 * (1 - math.exp(unmet / 4.0))
    swing = _half_swing("pH", day)
    return water - 0.6 + 0.3 * swing if method == "CaCl2" else water + swing


def true_value(bed_name: str, analyte: str, *, method: str, day: date, bottom_cm: float = DEPTH_CM) -> float:
    """Return what a perfect laboratory would read on a day by a method, season included.

    CEC and saturations take the extractant of the bases as their method.
    """
    bed = BED[bed_name]
    if analyte in ("pH", "buffer pH", "acidity"):
        return _reaction(bed, analyte, method, day)
    if analyte == "EC":
        return 0.12 + 0.02 * bed.start["OM"] / 4 + 0.0006 * added(bed, "S", day)
    if analyte == "CEC" or analyte.endswith("saturation"):
        return _charge(bed_name, analyte, method, day, bottom_cm)
    value = pool(bed, analyte, day)
    if analyte == "Ca":
        value -= (1 - DISSOLVED[method]) * PER_CMOL["Ca"] * max(-unmet_acidity(bed, day), 0.0)
    value *= FACTOR.get(method, {}).get(analyte, 1.0) * math.exp(_half_swing(analyte, day))
    return value * (DEEPER.get(analyte, 1.0) if bottom_cm > DEPTH_CM else 1.0)


def _charge(bed: str, analyte: str, method: str, day: date, bottom_cm: float) -> float:
    """Return CEC by summation [cmol/kg] or a share of it [%]."""
    parts = {
        base: true_value(bed, base, method=method, day=day, bottom_cm=bottom_cm) / per
        for base, per in PER_CMOL.items()
    }
    parts["acidity"] = true_value(bed, "acidity", method="", day=day)
    total = sum(parts.values())
    return total if analyte == "CEC" else 100 * parts[analyte.removesuffix(" saturation")] / total


def strays(analyte: str, *, sample: Sample, lab: str) -> dict[str, float]:
    """Return how far one printed result strays, by component, on its scale (logarithm or pH)."""
    keys = {
        "occasion": (lab, sample.day),
        "cores": (sample.composite,),
        "preparation": (sample.label,),
        "laboratory": (lab, sample.label),
    }
    size = {part: SD[analyte] * math.sqrt(share) for part, share in SHARES.items()}
    size["cores"] *= math.sqrt(CORES / sample.cores)
    out = {part: size[part] * normal(part, analyte, *key) for part, key in keys.items()}
    return {**out, "bias": BIAS[lab].get(analyte, 0.0)}


def read(analyte: str, true: float, stray: float) -> float:
    """Return the laboratory's own figure: the truth moved by what strays."""
    return true + stray if analyte in PLAIN else true * math.exp(stray)


@dataclass(frozen=True, eq=False)
class Truth:
    """What the demo garden truly held, for tests to hold the tool against.

    Attributes
    ----------
    values : dict
        (bed, analyte, method, day, bottom_cm) to the noise-free figure, season included, for
        every day sampled and every method in use. CEC and saturations bear the extractant of
        their bases as method.
    sd, shares, plain : dict and tuple
        One result's SD (logarithm; plain units for ``plain``), and its components' shares of
        variance. ``cores`` is for 15 cores and goes with the root of 15 / cores.
    swing : dict
        Spring above autumn, on the same scale.
    bias : dict
        A laboratory's lasting stray, by analyte, as a logarithm.
    recovery : dict
        (material, element) to the share of a dressing that the test finds once it is released.
    fade : dict
        Years in which a change of that element falls to 1/e.
    taken : dict
        Share of what crops carry off that the test sees gone.
    """

    values: dict[tuple[str, str, str, date, float], float]
    sd: dict[str, float] = field(default_factory=lambda: dict(SD))
    shares: dict[str, float] = field(default_factory=lambda: dict(SHARES))
    plain: tuple[str, ...] = PLAIN
    swing: dict[str, float] = field(default_factory=lambda: dict(SWING))
    bias: dict[str, dict[str, float]] = field(
        default_factory=lambda: {lab: dict(b) for lab, b in BIAS.items()}
    )
    recovery: dict[tuple[str, str], float] = field(
        default_factory=lambda: {
            (m.name, element): share for m in MATERIAL.values() for element, share in m.found.items()
        }
    )
    fade: dict[str, float] = field(default_factory=lambda: dict(FADE))
    taken: dict[str, float] = field(default_factory=lambda: dict(TAKEN))


def truth(days: dict[date, tuple[str, ...]], bottoms: dict[tuple[str, date], float]) -> Truth:
    """Return the truth for the days sampled (with the laboratories that had them)."""
    values = {}
    for day, labs in days.items():
        for bed in BEDS:
            bottom = bottoms.get((bed.name, day), DEPTH_CM)
            for used in (methods(lab, day) for lab in labs):
                pairs = [*used.items(), ("acidity", ""), ("CEC", used["Ca"])]
                pairs += [(f"{base} saturation", used["Ca"]) for base in SATURATIONS]
                values |= {
                    (bed.name, analyte, method, day, bottom): true_value(
                        bed.name, analyte, method=method, day=day, bottom_cm=bottom
                    )
                    for analyte, method in pairs
                }
    return Truth(values)
