"""Answers that nothing reads are told of, and those that any file of the folder reads are not."""

import pytest

from soiltrend.garden import open_garden

BEDS = '[beds."East"]\narea_m2 = 8\n[beds."West"]\narea_m2 = 8\n'
SPRING = "Sample,Sampled,pH,P2O5 lb/acre,K,Na\nS1,2024-04-12,6.4,120,142,ND\nWest,2024-04-12,6.1,110,131,30\n"
AUTUMN = "Sample,Sampled,pH,Mg\nEast,2024-10-12,6.5,88\n"


@pytest.fixture
def told(tmp_path):
    """Return a function that opens a garden of some files and gives its remarks on answers."""

    def make(**files):
        (tmp_path / "reports" / "more").mkdir(parents=True)
        (tmp_path / "garden.toml").write_text(BEDS)
        for name, text in ({"spring.csv": SPRING, "autumn.csv": AUTUMN} | files).items():
            (tmp_path / "reports" / name).write_text(text)
        notes = open_garden(tmp_path).notes
        return [note for note in notes if "nothing" in note]

    return make


def test_an_answer_of_the_folder_is_read_when_any_of_its_files_reads_it(told):
    """Of K, Na and a bed only the spring knows, of Mg only the autumn; labels differ by case and spaces."""
    answers = ('depth_cm = 15\n[units]\nK = "mg/kg"\nmg = "mg/kg"\nNa = "mg/kg"\n[beds]\ns1 = "East"\n'
               '[methods]\nP = "Mehlich-3"\n"p2o5  LB/acre" = "Mehlich-3"\n[limits]\nNA = "21"\n')
    assert told(**{"report.toml": answers}) == [
        'reports/report.toml: [methods] "P" = "Mehlich-3" is used by nothing: no value of P in the reports '
        "of its folder takes it"
    ]  # the heading goes before its analyte, and no other heading is of P


@pytest.mark.parametrize(("line", "said"), [
    ('[methods]\nP2O5 = "Olsen"', (
        '[methods] "P2O5" = "Olsen"',
        'no heading or analyte in its report reads so; "P" is the analyte, or write the heading in full')),
    ('[units]\nKali = "mg/kg"', ('[units] "Kali" = "mg/kg"', "no heading or analyte in its report reads so")),
    ('[beds]\nS9 = "West"', ('[beds] "S9" = "West"', "no sample or bed in its report reads so")),
    ('[analytes]\nBlub = "K"', ('[analytes] "Blub" = "K"', "no heading in its report reads so")),
    ('[ignore]\nMg = "no"', ('[ignore] "Mg" = "no"', "no heading in its report reads so")),
    ('[limits]\nK = "5"', (
        '[limits] "K" = "5"',
        "no value of that heading or analyte in its report lies below a limit that is not told")),
])
def test_an_answer_that_nothing_reads_is_told_with_what_it_would_take(told, line, said):
    """The file, the line as it stands, and the name that would be read where one is meant."""
    answers = 'depth_cm = 15\n[units]\nNa = "mg/kg"\nK = "mg/kg"\n[limits]\nNa = "21"\n[beds]\nS1 = "East"\n'
    tables = {part.split("]")[0]: part for part in answers.split("[")}
    name = line[1:].split("]")[0]
    text = answers.replace(f"[{name}]\n", f"{line}\n") if name in tables else f"{answers}{line}\n"
    assert told(**{"spring.toml": text}) == [f"reports/spring.toml: {said[0]} is used by nothing: {said[1]}"]


def test_of_answers_of_a_report_that_cannot_be_read_nothing_is_said(told):
    """It may be the one that would read them; a copy to the byte was read."""
    answers = '[units]\nMg = "mg/kg"\nZn = "mg/kg"\n'
    assert len(told(**{"report.toml": answers, "copy.csv": AUTUMN})) == 1


def test_answers_of_a_folder_with_a_broken_report_are_not_judged(told):
    """Zinc may stand in the file that holds no table."""
    assert told(**{"report.toml": '[units]\nZn = "mg/kg"\n', "broken.csv": "nothing\n"}) == []


def test_answers_beside_no_report_are_told(told):
    """A name that is not that of the file; report.toml of a folder without files waits for them."""
    files = {"spring-2024.toml": 'lab = "Hollin Bench"\n', "more/report.toml": 'lab = "Hollin Bench"\n'}
    assert told(**files) == [
        "reports/spring-2024.toml: nothing of it is read: no report of that name lies beside it"
    ]
