"""Oxmarrow Steps: an invented garden, its beds and its laboratories.

Nothing here is a real place, person, laboratory or measurement. Sizes are those of an
ordinary kitchen garden; where a size follows published figures, the source stands beside it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date
from statistics import NormalDist

SEED = "oxmarrow-steps 6"
"""A draw whose sampling days stray as much as stated on average; draw 1 strays a third more."""
SLUG = "oxmarrow-steps"
NAME = "Oxmarrow Steps"
PLACE = "a terraced kitchen garden above the Tarvenness mudflats (an invented place)"
TODAY = date(2026, 11, 24)

STORY = """\
Merrin took over the eight terraced beds of Oxmarrow Steps from her aunt Idony in the summer
of 2019 and sent soil from every bed to the Orrelby Soil Room that October. Since then she has
sampled before the spring dressing and again after the main harvest, except in autumn 2021,
when a broken wrist kept her off the steps. She leaves Gatepost without any dressing at all, so
that there is something to compare with. Kettle lies beside the compost bays and was fed far
more than the rest until 2023. In November 2020 her neighbour Osk gave her a torn sack of old
builders' lime; most of it went on Lower Wall, and a second helping followed in March because
the first had not shown yet. On Brûlé the stove ash of thirty winters was tipped; the heap is
gone, and its potash is being eaten up year by year. From July 2021 the Orrelby Soil Room
extracts with Mehlich-3 instead of Bray P1, ammonium acetate, DTPA and hot water, so the numbers
before and after are not on one scale. In spring 2024 Orrelby was slow, and she thought of
moving to the Kestholm Field Laboratory: she split every bucket between the two, sent Kestholm
the whole of autumn 2024, and then went back. Now and then a bag goes out under the name of an
orchard that does not exist, to see how far two bags of one soil differ. She shows the results
to her Thursday class every winter."""

ORRELBY = "Orrelby Soil Room"
KESTHOLM = "Kestholm Field Laboratory"
MEHLICH_FROM = date(2021, 7, 1)
"""The day from which Orrelby extracts with Mehlich-3."""

MISSED = "autumn 2021"


def uniform(*key: object) -> float:
    """Return a number between 0 and 1 that depends on the seed and the key alone."""
    return random.Random("|".join(map(str, (SEED, *key)))).random()


def normal(*key: object) -> float:
    """Return a standard normal number that depends on the seed and the key alone."""
    return NormalDist().inv_cdf(max(uniform(*key), 1e-12))


@dataclass(frozen=True)
class Bed:
    """A bed: its size, and its soil in October 2019 (mg/kg by Mehlich-3, OM in %)."""

    name: str
    code: str
    area_m2: float
    bulk_density: float
    pH: float
    buffering: float  # cmol/kg of acidity per unit of pH below 7
    start: dict[str, float]
    aliases: tuple[str, ...] = ()
    medium: str = "mineral soil"
    check: bool = False
    note: str = ""
    drift: dict[str, float] = field(default_factory=dict)  # where the bed differs from the rest, per year
    yields: float = 1.0  # harvests as a share of what is usual


def _start(*values: float) -> dict[str, float]:
    names = ("OM", "P", "K", "Ca", "Mg", "Na", "S", "B", "Zn", "Mn", "Fe", "Cu")
    return dict(zip(names, values, strict=True))


DEPTH_CM = 15.0

BEDS = (
    Bed(
        "Gatepost",
        "GA",
        9.6,
        1.25,
        6.3,
        2.1,
        _start(3.9, 62, 138, 1480, 142, 22, 11, 0.52, 2.8, 68, 165, 1.6),
        ("Gate post",),
        check=True,
        note="no dressing of any kind since 2019",
        yields=0.6,
    ),
    Bed(
        "Ferry", "FE", 12.0, 1.20, 6.1, 2.3, _start(4.4, 55, 150, 1420, 128, 24, 12, 0.50, 2.6, 74, 180, 1.5)
    ),
    Bed("Plum", "PL", 12.0, 1.20, 6.4, 2.2, _start(4.6, 70, 162, 1650, 151, 21, 13, 0.56, 3.2, 60, 160, 1.8)),
    Bed(
        "Long Reach",
        "LR",
        15.4,
        1.22,
        6.2,
        2.2,
        _start(4.2, 58, 144, 1510, 136, 23, 12, 0.51, 1.9, 70, 172, 1.6),
    ),
    Bed(
        "Zoë's Row",
        "ZR",
        10.2,
        1.18,
        5.8,
        2.4,
        _start(4.8, 48, 128, 1240, 104, 26, 11, 0.45, 2.2, 92, 210, 1.4),
        ("Zoes Row", "Zoe's Row"),
        note="the sour bed under the larches",
    ),
    Bed(
        "Brûlé",
        "BR",
        8.8,
        1.15,
        6.7,
        2.2,
        _start(4.7, 88, 312, 1900, 168, 28, 14, 0.70, 5.8, 52, 140, 2.2),
        ("Brule",),
        note="stove ash was tipped here for thirty winters",
        drift={"K": -16.0},
    ),
    Bed(
        "Kettle",
        "KE",
        11.0,
        0.85,
        6.8,
        3.0,
        _start(9.2, 165, 286, 2850, 288, 34, 22, 0.95, 9.5, 40, 120, 3.1),
        medium="compost-rich mix",
        note="beside the compost bays",
    ),
    Bed(
        "Lower Wall",
        "LW",
        12.6,
        1.20,
        6.2,
        2.2,
        _start(4.1, 52, 141, 1530, 133, 25, 12, 0.49, 2.9, 66, 170, 1.7),
        ("Lower wall (S)",),
        note="limed too hard in November 2020 and March 2021",
    ),
)
BED = {bed.name: bed for bed in BEDS}


@dataclass(frozen=True)
class Sample:
    """A bag of soil, as the sampling record has it."""

    label: str
    bed: str
    day: date
    bottom_cm: float = DEPTH_CM
    cores: int = 16
    duplicate_of: str = ""
    surface: str = "removed"
    moisture: str = "moist"
    note: str = ""
    printed_bed: str = ""

    @property
    def composite(self) -> str:
        """What the cores' own stray hangs on: one bucket of soil."""
        return f"{self.bed} {self.day}"
