"""What Merrin put on her beds and what she carried off.

Yields and contents of crops are invented, of the usual size.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from story import BED, BEDS, TODAY, Bed, uniform


@dataclass(frozen=True)
class Application:
    """One dressing as she wrote it down."""

    day: date
    bed: str
    material: str
    amount: float
    unit: str
    note: str = ""


def _compost() -> list[Application]:
    """Return the spring compost: wet kilograms, by the barrow."""
    rates = {"Ferry": 1.6, "Plum": 1.6, "Long Reach": 1.5, "Zoë's Row": 1.7, "Lower Wall": 1.0, "Kettle": 3.6}
    done = []
    for year in range(2020, 2027):
        for number, (bed, rate) in enumerate(rates.items()):
            if bed == "Kettle" and year > 2023:
                continue
            kg = round(rate * BED[bed].area_m2 * (0.9 + 0.2 * uniform("compost", bed, year)))
            done.append(Application(date(year, 4, 20 + number), bed, "house compost", kg, "kg"))
    return done


def _leaves_and_liquids() -> list[Application]:
    """Return what is done every year: leaf mould in November, ferment in summer."""
    done = []
    for year in range(2020, 2026):
        for bed, rate in {"Ferry": 1.2, "Long Reach": 1.1, "Brûlé": 1.2}.items():
            kg = round(rate * BED[bed].area_m2 * (0.9 + 0.2 * uniform("leaf", bed, year)))
            done.append(Application(date(year, 11, 16), bed, "leaf mould", kg, "kg"))
        for bed in ("Ferry", "Plum"):
            done += [
                Application(date(year, month, 12), bed, "comfrey ferment", 2.0, "L", "watered in 1 to 15")
                for month in (6, 7)
            ]
    return done


ONCE = (
    Application(date(2019, 11, 9), "Brûlé", "stove ash", 1.2, "kg", "the last of the heap"),
    Application(date(2020, 11, 14), "Lower Wall", "builders' lime", 6.5, "kg", "Osk's torn sack, raked in"),
    Application(
        date(2021, 3, 6), "Lower Wall", "builders' lime", 4.0, "kg", "nothing to see yet, so the rest"
    ),
    Application(date(2021, 11, 20), "Long Reach", "basalt dust", 6.0, "kg", "one wet Saturday, one hand"),
    Application(date(2022, 4, 26), "Plum", "Epsom salt", 40, "g/m2"),
    Application(date(2022, 10, 25), "Ferry", "wrack", 9.0, "kg", "after the gale"),
    Application(date(2022, 11, 19), "Zoë's Row", "ground mussel shell", 180, "g/m2"),
    Application(date(2023, 4, 25), "Plum", "Epsom salt", 40, "g/m2"),
    Application(date(2023, 5, 2), "Ferry", "borax", 10, "g", "in two cans of water"),
    Application(date(2023, 5, 2), "Plum", "borax", 10, "g", "in two cans of water"),
    Application(date(2024, 3, 28), "Zoë's Row", "gypsum", 1.2, "kg", "twelve days before sampling: too soon"),
    Application(date(2024, 5, 7), "Long Reach", "zinc sulfate", 30, "g", "in two cans of water"),
    Application(date(2025, 4, 30), "Plum", "gypsum", 80, "g/m2"),
    Application(date(2025, 6, 20), "Zoë's Row", "shells in vinegar", 0.5, "L", "watered in 1 to 200"),
)
APPLICATIONS = tuple(sorted((*_compost(), *_leaves_and_liquids(), *ONCE), key=lambda a: (a.day, a.bed)))


@dataclass(frozen=True)
class Crop:
    """A crop: its usual yield, its harvest day and what a fresh kilogram holds (percent)."""

    name: str
    kg_per_m2: float
    month: int
    day: int
    holds: dict[str, float]
    residue: str = "kept"


def _holds(n: float, p: float, k: float, ca: float, mg: float) -> dict[str, float]:
    return {"N": n, "P": p, "K": k, "Ca": ca, "Mg": mg}


CROPS = {
    crop.name: crop
    for crop in (  # contents: of the usual size in food tables (from memory)
        Crop("broad beans", 1.4, 7, 10, _holds(0.90, 0.10, 0.33, 0.04, 0.04)),
        Crop("leeks", 2.8, 11, 2, _holds(0.25, 0.04, 0.24, 0.06, 0.02)),
        Crop("squash", 3.2, 9, 28, _holds(0.20, 0.03, 0.35, 0.03, 0.02)),
        Crop("kale", 2.2, 11, 6, _holds(0.50, 0.06, 0.40, 0.20, 0.03)),
        Crop("beetroot", 3.4, 9, 20, _holds(0.26, 0.04, 0.33, 0.02, 0.02), "removed"),
        Crop("celeriac", 2.9, 10, 24, _holds(0.24, 0.11, 0.30, 0.04, 0.02), "removed"),
        Crop("spinach", 0.8, 5, 24, _holds(0.45, 0.05, 0.55, 0.10, 0.08)),
        Crop("chard", 3.6, 8, 30, _holds(0.30, 0.05, 0.38, 0.05, 0.08), "removed"),
    )
}
ROTATION = ("broad beans", "leeks", "squash", "kale", "beetroot", "celeriac")
AFTER_SPINACH = ("leeks", "squash", "kale")
"""Crops that are planted late enough for spinach to stand before them."""

HUNGRY = ("chard", "beetroot", "celeriac")
"""What Brûlé grows, in turn: leaf and root that carry much potash away."""

TAKEN = {"P": 0.15, "K": 0.22, "Ca": 0.2, "Mg": 0.3}
"""Share of what a crop carries off that a soil test sees gone; reserves make up the rest."""


@dataclass(frozen=True)
class Harvest:
    """One harvest as she weighed it."""

    day: date
    bed: str
    crop: str
    kg: float
    residue: str


def _weighed(bed: Bed, crop: Crop, year: int) -> Harvest:
    """Return one harvest, with the luck of its year."""
    luck = 0.8 + 0.4 * uniform("yield", crop.name, bed.name, year)
    kg = round(crop.kg_per_m2 * bed.area_m2 * bed.yields * luck, 1)
    return Harvest(date(year, crop.month, crop.day), bed.name, crop.name, kg, crop.residue)


def _harvests() -> list[Harvest]:
    """Return all harvests: the crop of the rotation in every bed, and spinach before the late ones."""
    done = []
    for year in range(2020, 2027):
        for number, bed in enumerate(BEDS):
            wheel = HUNGRY if bed.name == "Brûlé" else ROTATION
            main = wheel[(number + year) % len(wheel)]
            first = ["spinach"] if main in AFTER_SPINACH else []
            done += [_weighed(bed, CROPS[name], year) for name in (*first, main)]
    return sorted((h for h in done if h.day < TODAY), key=lambda h: (h.day, h.bed))


HARVESTS = tuple(_harvests())
