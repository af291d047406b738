"""What the two laboratories read and printed: truth, moved by what strays, in their own units."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from reports import LIMIT, OUTLIER, Column, Report, Sample, columns, samples
from shapes import Sheet
from soil import ACIDITY_PER_BUFFER, PER_CMOL, methods, read, strays, true_value
from story import KESTHOLM, ORRELBY, uniform

WORDS = {"P": (40, 80), "K": (120, 190), "Mg": (120, 180)}
"""Below the first Orrelby calls a figure scant, below the second fair, else ample (invented)."""

BURST = Column("", "Respiration burst", "mg CO2-C/kg", "", 0)
"""A determination of Orrelby's own that no table of the tool knows."""


@dataclass(frozen=True)
class Printed:
    """One figure as printed, with what stands behind it.

    Attributes
    ----------
    expected, measured : float
        The truth with the laboratory's lasting bias, and what the bench read, both in the
        canonical unit (before rounding, before a slip of the pen).
    derived : bool
        Calculated by the laboratory from its other figures (CEC, saturations).
    """

    file: str
    lab: str
    sample: str
    bed: str
    day: date
    bottom_cm: float
    cores: int
    analyte: str
    symbol: str
    method: str
    unit: str
    text: str
    decimals: int
    factor: float
    expected: float
    measured: float
    derived: bool = False
    outlier: bool = False


def _figures(report: Report, sample: Sample) -> dict[str, tuple[float, float]]:
    """Return (expected, measured) of a bag for every analyte its laboratory determines."""
    used = methods(report.lab, report.day)
    where = {"day": sample.day, "bottom_cm": sample.bottom_cm}
    out = {}
    for analyte, method in used.items():
        true = true_value(sample.bed, analyte, method=method, **where)
        stray = strays(analyte, sample=sample, lab=report.lab)
        out[analyte] = (read(analyte, true, stray["bias"]), read(analyte, true, sum(stray.values())))
    if report.lab == ORRELBY:
        true = true_value(sample.bed, "acidity", method="", **where)
        by_buffer = max(0.0, ACIDITY_PER_BUFFER * (7.0 - out["buffer pH"][1]))
        out["acidity"] = (true, 0.0 if out["pH"][1] >= 7.0 else by_buffer)
    return out


def _with_charge(figures: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    """Return the figures and what the laboratory sums from them: CEC and its shares."""
    sums: list[dict[str, float]] = []
    for side in (0, 1):
        parts = {base: figures[base][side] / per for base, per in PER_CMOL.items()}
        parts["acidity"] = figures["acidity"][side]
        total = sum(parts.values())
        sums.append({"CEC": total, **{f"{part} saturation": 100 * x / total for part, x in parts.items()}})
    return figures | {name: (sums[0][name], sums[1][name]) for name in sums[0]}


def _word(analyte: str, value: float) -> str:
    low, high = WORDS[analyte]
    return "scant" if value < low else "fair" if value < high else "ample"


def _text(report: Report, sample: Sample, column: Column, figures: dict[str, tuple[float, float]]) -> str:
    """Return the text of one cell; empty when the laboratory did not run the determination."""
    value = figures[column.analyte][1]
    if column.analyte == "buffer pH" and figures["pH"][1] >= 7.0:
        return ""
    limit = LIMIT.get((column.analyte, column.method))
    if limit and value < limit:
        return "ND" if report.layout.get("nd") else f"<{limit}"
    if (report.stem, sample.label, column.analyte) == OUTLIER:
        return f"{value * column.factor * 10:.0f}"
    text = f"{value * column.factor:.{column.decimals}f}"
    return (
        f"{text} {_word(column.analyte, value)}"
        if report.layout.get("words") and column.analyte in WORDS
        else text
    )


def _burst(report: Report, sample: Sample) -> str:
    return f"{40 + 70 * uniform('burst', report.stem, sample.label):.0f}"


def printed(report: Report, file: str) -> list[Printed]:
    """Return every figure of a report, bag by bag."""
    out = []
    for sample in samples(report):
        figures = _with_charge(_figures(report, sample))
        for column in columns(report):
            text = _text(report, sample, column, figures)
            expected, measured = figures[column.analyte]
            shown = text.replace(".", ",") if report.lab == KESTHOLM else text
            if text:
                out.append(
                    Printed(
                        file,
                        report.lab,
                        sample.label,
                        sample.bed,
                        sample.day,
                        sample.bottom_cm,
                        sample.cores,
                        column.analyte,
                        column.symbol,
                        column.method,
                        column.unit,
                        shown,
                        column.decimals,
                        column.factor,
                        expected,
                        measured,
                        _derived(column.analyte),
                        (report.stem, sample.label, column.analyte) == OUTLIER,
                    )
                )
        if report.layout.get("burst"):
            text = _burst(report, sample)
            out.append(
                Printed(
                    file,
                    report.lab,
                    sample.label,
                    sample.bed,
                    sample.day,
                    sample.bottom_cm,
                    sample.cores,
                    "",
                    BURST.symbol,
                    "",
                    BURST.unit,
                    text,
                    0,
                    1.0,
                    float("nan"),
                    float(text),
                )
            )
    return out


def _derived(analyte: str) -> bool:
    return analyte == "CEC" or analyte.endswith("saturation")


def sheet(report: Report, figures: list[Printed]) -> Sheet:
    """Return a report ready to be laid out."""
    cells = {(figure.sample, figure.symbol): figure.text.replace(",", ".") for figure in figures}
    shown = (*columns(report), *((BURST,) if report.layout.get("burst") else ()))
    remarks = (
        (f"ND: not detected (B below {LIMIT['B', 'hot water']} ppm).",) if report.layout.get("nd") else ()
    )
    return Sheet(report, samples(report), shown, cells, remarks)
