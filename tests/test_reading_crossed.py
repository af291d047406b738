"""One measurement in a table of places and years, named in the title."""

import pytest

from soiltrend import frames
from soiltrend.reading import read_report

DOWN = """"Long plots, topsoil",,
,"Organic carbon %, 0-23 cm",
,,
,,Dunged,Bare
,1900,1.9,1.1
,1950,<2.4,1.0
,,
Dunged,every year,
"""
ACROSS = """Organic carbon (%) 0-20 cm,,
Plot,2001,2011
Dunged,1.9,2.4
Bare,1.1,1.0
"""


@pytest.mark.parametrize(("text", "years", "bottom"), [
    (DOWN, ("1900", "1950"), 23.0), (ACROSS, ("2001", "2011"), 20.0)])
def test_places_and_years(tmp_path, text, years, bottom):
    """The title gives the measurement, its unit and layer; the years are seasons without a day."""
    path = tmp_path / "plots.csv"
    path.write_text(text)
    reading = read_report(path)
    frames.check(reading.results)
    found = {(row.bed, row.season): row.value for row in reading.results.itertuples()}
    assert found == {("Dunged", years[0]): 1.9, ("Dunged", years[1]): 2.4, ("Bare", years[0]): 1.1,
                     ("Bare", years[1]): 1.0}
    assert set(reading.results["analyte"]) == {"TOC"}
    assert set(reading.results["bottom_cm"]) == {bottom}
    assert len(reading.set_aside) == 0
